"""What anybody may count at any time, and putting a wrong count right."""

from __future__ import annotations

import uuid
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from orders.models import User
from orders.refusals import Refused

from ..models import Count, Part, Sowing
from ..queries.seed import seeds_left
from . import counts, replan
from .common import locked
from .readiness import make_way_for_loss, mark_line_ready

# The other kinds come with a piece of work, with ready or with hand-over.
AT_ANY_TIME = (Count.Kind.EMERGED, Count.Kind.USABLE, Count.Kind.TAKEN, Count.Kind.LOST)


def record_count(
    *,
    part: Part,
    kind: str,
    quantity: int,
    by: User | None,
    today: date,
    happened_on: date | None = None,
    sowing: Sowing | None = None,
    reason: str = "",
    count_id: uuid.UUID | None = None,
) -> Count:
    """Count what is up, fit to graft, taken or lost, outside any planned work; what follows is planned again.

    The same `count_id` again gives the count that is there. Raises Refused (quantity, kind, sowing, happened_on).
    """
    if kind not in AT_ANY_TIME:
        raise Refused(
            _("This is not counted here."), mend=_("Record it with its work, or on the order."), field="kind"
        )
    count_id = count_id or uuid.uuid4()
    with transaction.atomic():
        part = locked(part)
        if kind == Count.Kind.LOST and not Count.objects.filter(pk=count_id).exists():
            if not reason.strip():
                raise Refused(_("No reason is given."), mend=_("Say why they were lost."), field="reason")
            if sowing is None:
                make_way_for_loss(part, quantity, by=by, today=today)
        count = counts.add(
            part=part, kind=kind, quantity=quantity, by=by, today=today, happened_on=happened_on,
            sowing=sowing, reason=reason, count_id=count_id,
        )  # fmt: skip
        replan.touch(part)
    replan.roll_part(part.pk, today)
    return count


def correct_count(
    *,
    count: Count,
    quantity: int,
    by: User | None,
    today: date,
    reason: str = "",
    count_id: uuid.UUID | None = None,
) -> Count:
    """Put another number in place of a count; the old row stays, and the new one names it."""
    with transaction.atomic():
        part = locked(count.part)
        _check_correctable(count, quantity, count_id)
        correction = counts.add(
            part=part, kind=count.kind, quantity=quantity, by=by, today=today, happened_on=count.happened_on,
            sowing=count.sowing, line=count.line, work=count.work, reason=reason or count.reason,
            count_id=count_id, corrects=count,
        )  # fmt: skip
        if count.kind == Count.Kind.READY and count.line:
            mark_line_ready(count.line, by=by)
        replan.touch(part)
    replan.roll_part(part.pk, today)
    return correction


def _check_correctable(count: Count, quantity: int, count_id: uuid.UUID | None) -> None:
    if count.kind == Count.Kind.HANDED_OVER:
        raise Refused(
            _("Plants that were handed over are on the bill."),
            mend=_("Put it right with a credit note."),
            field="quantity",
        )
    later = Count.objects.filter(corrects=count).first()
    if later and later.pk != count_id:
        raise Refused(
            _("This count was corrected to %(n)s already.") % {"n": later.quantity},
            mend=_("Correct the latest one."),
            field="quantity",
        )
    lot = count.sowing.lot if count.sowing and count.kind == Count.Kind.SOWN else None
    if lot and quantity - count.quantity > seeds_left(lot):
        raise Refused(
            _("Lot %(lot)s has only %(left)s seeds left besides these.") % {"lot": lot, "left": seeds_left(lot)},
            mend=_("Count again, or put the lot's seeds right first."),
            field="quantity",
        )
