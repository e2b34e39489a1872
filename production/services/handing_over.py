"""From ready to gone: handing over to the customer, clearing what is left, and the room given back."""

from __future__ import annotations

import uuid
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from orders import states
from orders.models import OrderLine, User
from orders.refusals import Refused
from orders.services import mark_collected, mark_growing, mark_ready

from ..models import Count, Part, Work
from ..planning import terms
from ..queries.tally import Tally, tally_of
from . import counts, replan, stays
from .common import derived_id, locked
from .readiness import Share, end_work, shares_of


def hand_over(
    *,
    line: OrderLine,
    quantity: int,
    by: User | None,
    today: date,
    close_short: bool = False,
    reason: str = "",
    spare_too: bool = False,
    happened_on: date | None = None,
    count_id: uuid.UUID | None = None,
) -> OrderLine:
    """So many plants were really taken. The line ends when its whole quantity is gone, or when it closes short.

    Each part's stands end when its last plants are gone; until then they take room, in as many trays as are left.
    `spare_too`: plants of these parts that nobody ordered leave with them. Raises Refused (quantity, reason).
    """
    if line.kind == OrderLine.Kind.ROOM:
        return _end_room(line=line, by=by, today=today)
    with transaction.atomic():
        shares = shares_of(line)
        if _handed_before(shares, line, count_id):
            line.refresh_from_db()
            return line
        _check_hand_over(line, shares, quantity, close_short, reason)
        left = quantity
        for share in shares:
            taken = min(left, share.waiting)
            left -= taken
            _take_from(share, taken, quantity, by, today, happened_on, count_id)
        mark_collected(line=line, quantity=quantity, on=happened_on or today, by=by, close=close_short, why=reason)
        line.refresh_from_db()
        for share in shares:
            _free(share.part, line, by, happened_on or today, spare_too)
    replan.roll_parts((share.part.pk for share in shares), today)
    return line


def _handed_before(shares: list[Share], line: OrderLine, count_id: uuid.UUID | None) -> bool:
    if count_id is None:
        return False
    ids = [derived_id(count_id, share.part.pk, line.pk) for share in shares]
    return Count.objects.filter(pk__in=ids).exists()


def _check_hand_over(line: OrderLine, shares: list[Share], quantity: int, close_short: bool, reason: str) -> None:
    waiting = sum(share.waiting for share in shares)
    if quantity > waiting:
        raise Refused(
            _("Only %(n)s plants are ready and still here.") % {"n": waiting},
            mend=_("Hand over that many at the most, or count again what is ready."),
            field="quantity",
        )
    if quantity < 0 or (quantity == 0 and not close_short):
        raise Refused(_("The quantity is zero or less."), mend=_("Write how many were taken."), field="quantity")
    if close_short and line.collected_quantity + quantity < line.quantity and not reason.strip():
        raise Refused(_("The line ends with fewer plants than ordered."), mend=_("Say why."), field="reason")


def _take_from(
    share: Share,
    taken: int,
    quantity: int,
    by: User | None,
    today: date,
    happened_on: date | None,
    count_id: uuid.UUID | None,
) -> None:
    part = locked(share.part)
    if taken or (count_id and not quantity):  # closing short with none taken is a submit to remember too
        counts.add(
            part=part, kind=Count.Kind.HANDED_OVER, quantity=taken, by=by, today=today, happened_on=happened_on,
            line=share.allocation.line, count_id=derived_id(count_id, part.pk, share.allocation.line_id),
        )  # fmt: skip
    replan.touch(part)


def _free(part: Part, line: OrderLine, by: User | None, day: date, spare_too: bool) -> None:
    """Give back the room of the plants that are gone."""
    part = locked(part)
    lines = [allocation.line for allocation in part.allocations.select_related("line")]
    if line.state in states.ENDED and all(each.state in states.ENDED for each in lines):
        end_work(part, terms.HAND_OVER, by, day, tally_of(part).handed_over)
        if spare_too:
            _clear(part, by, day, _("left over"))
    tally = tally_of(part)
    if tally.alive <= 0:
        _gone(part, day)
        return
    here = stays.standing(part)
    for stay in here if len(here) == 1 else []:
        need = -(-tally.alive // stay.container.plants)
        if need < stay.containers:
            stays.put_together(stay, containers=need, day=day)


def _end_room(*, line: OrderLine, by: User | None, today: date) -> OrderLine:
    """The nights of a room-only line are over: its trays are gone, and it can be billed."""
    with transaction.atomic():
        if line.state == states.COLLECTED:
            return line
        mark_growing(line=line, by=by)
        if line.state != states.READY:
            mark_ready(line=line, quantity=line.quantity, by=by)
        line.refresh_from_db()
        mark_collected(line=line, quantity=line.outstanding, on=today, by=by)
        for part in Part.objects.filter(allocations__line=line):
            part = locked(part)
            end_work(part, terms.HAND_OVER, by, today)
            _gone(part, today)
    line.refresh_from_db()
    return line


# --- what is left ------------------------------------------------------------------------------------------------


def clear_out(*, part: Part, by: User | None, today: date, reason: str) -> Part:
    """The plants that are left are gone (thrown away, given away): a loss with its reason; the room is free."""
    if not reason.strip():
        raise Refused(_("No reason is given."), mend=_("Say where the plants went."), field="reason")
    with transaction.atomic():
        part = locked(part)
        if any(a.line.state in states.PROMISED for a in part.allocations.select_related("line")):
            raise Refused(
                _("These plants are promised to a customer."),
                mend=_("Hand them over, close the line short, or cancel it first."),
            )
        _clear(part, by, today, reason)
        replan.touch(part)
        _gone(part, today)
    replan.roll_part(part.pk, today)
    return part


def _clear(part: Part, by: User | None, day: date, reason: str) -> None:
    alive = tally_of(part).standing
    if alive > 0:
        tally = tally_of(part)
        if tally.grafted_kind and tally.grafted is None:
            for each in tally.sowings:
                counts.add(
                    part=part, kind=Count.Kind.LOST, quantity=each.seedlings, by=by, today=day,
                    sowing=each.sowing, reason=reason,
                )  # fmt: skip
            return
        _lower_ready(part, tally, by, day)
        counts.add(part=part, kind=Count.Kind.LOST, quantity=alive, by=by, today=day, reason=reason)


def _lower_ready(part: Part, tally: Tally, by: User | None, day: date) -> None:
    """What was ready and is thrown away is ready no more."""
    for line, ready in tally.ready_by_line.items():
        gone = tally.handed_over_to(line) if line is not None else 0
        if ready > gone:
            counts.add(
                part=part, kind=Count.Kind.READY, quantity=gone, by=by, today=day,
                line=OrderLine.objects.get(pk=line) if line else None, reason=_("left over"),
            )  # fmt: skip


def _gone(part: Part, day: date) -> None:
    stays.leave_all(part, day)
    part.works.filter(state=Work.State.PLANNED).update(state=Work.State.DROPPED)
    Part.objects.filter(pk=part.pk).update(state=Part.State.GONE)
    part.state = Part.State.GONE
