"""Adding one count: an append-only row with an id made by the client, or the refusal of what cannot be."""

from __future__ import annotations

import uuid
from datetime import date

from django.utils.translation import gettext as _

from orders import history
from orders.models import OrderLine, User
from orders.refusals import Refused

from ..models import Count, Part, Sowing, Work
from ..queries.tally import tally_of
from ..words import day_words

MOST = 2_000_000  # more than any part could hold

OF_A_SOWING = (Count.Kind.SOWN, Count.Kind.EMERGED, Count.Kind.USABLE)
OF_THE_PART = (Count.Kind.GRAFTED, Count.Kind.TAKEN, Count.Kind.READY, Count.Kind.HANDED_OVER)


def add(
    *,
    part: Part,
    kind: str,
    quantity: int,
    by: User | None,
    today: date,
    happened_on: date | None = None,
    sowing: Sowing | None = None,
    line: OrderLine | None = None,
    work: Work | None = None,
    reason: str = "",
    count_id: uuid.UUID | None = None,
    corrects: Count | None = None,
) -> Count:
    """Add one row to a part that the caller has locked; Refused when it cannot be, or makes another impossible."""
    count_id = count_id or uuid.uuid4()
    there = Count.objects.filter(pk=count_id).first()
    if there:
        return _same(there, part, kind)
    row = Count(
        pk=count_id, kind=kind, quantity=quantity, part=part, sowing=sowing, line=line, work=work,
        reason=reason.strip()[:200], happened_on=happened_on or today, by=by.shown_name if by else "",
        corrects=corrects,
    )  # fmt: skip
    _check(row, today)
    for fault in tally_of(part, more=[row]).faults():
        raise fault
    row.save(force_insert=True)
    _say(row, by)
    return row


def _same(there: Count, part: Part, kind: str) -> Count:
    if there.part_id != part.pk or there.kind != kind:
        raise Refused(_("Another count has this id."), mend=_("Make a new id for each count."), field="count_id")
    return there


def _check(row: Count, today: date) -> None:
    if not 0 <= row.quantity <= MOST:
        raise Refused(
            _("%(n)s is no number of plants.") % {"n": row.quantity}, mend=_("Count again."), field="quantity"
        )
    if row.happened_on > today:
        raise Refused(
            _("%(day)s is still to come.") % {"day": day_words(row.happened_on)},
            mend=_("Record it when it has happened."),
            field="happened_on",
        )
    if row.kind in OF_A_SOWING and row.sowing is None:
        raise Refused(_("No sowing is named."), mend=_("Choose which trays were counted."), field="sowing")
    if row.kind in OF_THE_PART and row.sowing is not None:
        raise Refused(_("This is counted for all plants of the batch."), mend=_("Name no sowing."), field="sowing")
    if row.sowing is not None and row.sowing.part_id != row.part_id:
        raise Refused(_("This sowing belongs to another batch."), mend=_("Choose its own."), field="sowing")


def _say(row: Count, by: User | None) -> None:
    text = f"{row.quantity} {row.get_kind_display()}"
    if row.sowing:
        text += f" ({row.sowing.variety}, {row.sowing.code})"
    if row.reason:
        text += f": {row.reason}"
    if row.corrects:
        text = _("%(count)s, put in place of %(n)s") % {"count": text, "n": row.corrects.quantity}
    history.record(
        by=by, what="count corrected" if row.corrects else "counted", subject=row.part.batch, text=text,
        part=row.part.number, count=str(row.pk),
    )  # fmt: skip
