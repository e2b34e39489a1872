"""From ready to gone: counting what is ready, sending the notice, handing over, clearing what is left."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders import history, states
from orders.jobs import enqueue
from orders.models import Job, OrderLine, User
from orders.refusals import Refused
from orders.services import mark_collected, mark_growing, mark_ready

from ..models import Allocation, Count, Part, Stay, Work
from ..planning import terms
from ..queries.pending import notice_key
from ..queries.tally import Tally, tally_of
from . import counts, replan, stays
from .common import derived_id, locked


@dataclass(frozen=True)
class Share:
    """What one line has of one part."""

    allocation: Allocation
    tally: Tally

    @property
    def part(self) -> Part:
        return self.allocation.part

    @property
    def ready(self) -> int:
        return self.tally.ready_by_line.get(self.allocation.line_id, 0)

    @property
    def waiting(self) -> int:
        return self.tally.waiting_for(self.allocation.line_id)


def shares_of(line: OrderLine) -> list[Share]:
    """The parts that a line's plants come from, the first grafted first."""
    allocations = line.allocations.select_related("part__batch", "line__order").order_by(
        "part__ready_day", "part__number", "part_id"
    )
    return [Share(allocation, tally_of(allocation.part)) for allocation in allocations]


# --- ready ----------------------------------------------------------------------------------------------------


def declare_ready(
    *,
    line: OrderLine,
    quantity: int,
    by: User | None,
    today: date,
    happened_on: date | None = None,
    reason: str = "",
    count_id: uuid.UUID | None = None,
) -> OrderLine:
    """So many plants of the line are ready in all, those collected already included; the line becomes ready.

    Taken from its parts in the order in which they were grafted. Sends nothing: `send_notice` does, when a person
    has seen the number. Raises Refused (quantity).
    """
    with transaction.atomic():
        shares = shares_of(line)
        _check_shares(line, shares, quantity)
        for share, number in zip(shares, _divided(shares, quantity), strict=True):
            part = locked(share.part)
            counts.add(
                part=part, kind=Count.Kind.READY, quantity=number, by=by, today=today, happened_on=happened_on,
                line=line, reason=reason, count_id=derived_id(count_id, part.pk, line.pk),
            )  # fmt: skip
            _become_ready(part, number)
            _end_work(part, terms.COUNT_READY, by, today, number)
            replan.touch(part)
        mark_line_ready(line, by=by)
    replan.roll_parts((share.part.pk for share in shares), today)
    return line


def _check_shares(line: OrderLine, shares: list[Share], quantity: int) -> None:
    if not shares:
        raise Refused(_("Nothing grows for %(line)s.") % {"line": line}, mend=_("Look at its plan."))
    if quantity < 1:
        raise Refused(_("No plant is ready."), mend=_("Write how many are."), field="quantity")
    most = most_ready(line)
    if quantity > most:
        raise Refused(
            _("%(n)s ready, but at most %(most)s plants live for %(line)s.")
            % {"n": quantity, "most": most, "line": line},
            mend=_("Count again, or correct the count before it."),
            field="quantity",
        )


def _divided(shares: list[Share], quantity: int) -> list[int]:
    numbers = []
    for share in shares:
        number = max(0, min(quantity, share.allocation.quantity, share.tally.grown))
        numbers.append(number)
        quantity -= number
    return numbers


def record_ready(
    *,
    part: Part,
    quantity: int,
    by: User | None,
    today: date,
    happened_on: date,
    work: Work,
    reason: str,
    count_id: uuid.UUID,
) -> None:
    """So many plants of a part are ready: its lines get theirs, earliest pickup first; the rest nobody ordered."""
    allocations = sorted(part.allocations.all(), key=lambda a: (a.line.pickup or part.pickup, a.line_id))
    left = quantity
    for allocation in allocations:
        number = min(left, allocation.quantity)
        left -= number
        counts.add(
            part=part, kind=Count.Kind.READY, quantity=number, by=by, today=today, happened_on=happened_on,
            line=allocation.line, work=work, reason=reason,
            count_id=derived_id(count_id, part.pk, allocation.line_id),
        )  # fmt: skip
    if left or not allocations:
        counts.add(
            part=part, kind=Count.Kind.READY, quantity=left, by=by, today=today, happened_on=happened_on,
            work=work, reason=reason, count_id=count_id,
        )  # fmt: skip
    _become_ready(part, quantity)
    for allocation in allocations:
        if quantity:
            mark_line_ready(allocation.line, by=by)


def mark_line_ready(line: OrderLine, *, by: User | None) -> None:
    """Tell the line how many of its plants are ready in all, by the counts of its parts."""
    total = sum(share.ready for share in shares_of(line))
    if total == 0 and line.state != states.READY:
        return
    mark_growing(line=line, by=by)
    mark_ready(line=line, quantity=total, by=by)
    line.refresh_from_db()


def _become_ready(part: Part, quantity: int) -> None:
    if quantity and part.state != Part.State.READY:
        Part.objects.filter(pk=part.pk).update(state=Part.State.READY)
        part.state = Part.State.READY


def _end_work(part: Part, kind: str, by: User | None, today: date, plants: int | None = None) -> None:
    """Work that was recorded in another way is done, with so many plants."""
    part.works.filter(kind=kind, state=Work.State.PLANNED).update(
        state=Work.State.DONE, done_on=today, recorded_at=timezone.now(), done_by=by.shown_name if by else "",
        done_plants=plants,
    )  # fmt: skip


# --- the notice -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Notice:
    """What the pickup-ready notice will say, shown before it is sent."""

    line: OrderLine
    quantity: int  # ready and still here
    short: int  # fewer than ordered
    number: int  # the how-manieth notice of the line
    sent: Job | None  # this very notice, if it was sent already


def notice_of(line: OrderLine) -> Notice:
    key = notice_key(line)
    before = Job.objects.filter(kind="pickup_notice", payload__line=line.pk)
    sent = before.filter(key=key).first()
    return Notice(
        line=line,
        quantity=line.outstanding,
        short=max(0, line.quantity - line.ready_quantity),
        number=sent.payload["notice"] if sent else before.count() + 1,
        sent=sent,
    )


def send_notice(*, line: OrderLine, by: User | None, today: date) -> Job:
    """Send the pickup-ready notice for what is ready and still here. The same numbers again send nothing twice."""
    with transaction.atomic():
        line = OrderLine.objects.select_for_update(of=("self",)).select_related("order").get(pk=line.pk)
        if line.order.own_crop:
            raise Refused(_("Our own crop gets no letters."), mend=_("Hand the plants over to yourselves."))
        if line.state != states.READY or line.outstanding < 1:
            raise Refused(
                _("Nothing of %(line)s waits for pickup.") % {"line": line}, mend=_("Count it ready first.")
            )
        notice = notice_of(line)
        if notice.sent:
            return notice.sent
        job = enqueue(
            "pickup_notice",
            notice_key(line),
            {
                "line": line.pk,
                "quantity": notice.quantity,
                "short": notice.short,
                "notice": notice.number,
                "by": by.shown_name if by else "",
            },
        )
        text = _("Pickup notice for %(n)s plants of line %(line)s") % {"n": notice.quantity, "line": line.number}
        if notice.short:
            text += ", " + _("%(n)s fewer than ordered") % {"n": notice.short}
        history.record(by=by, what="notice sent", subject=line.order, text=text, line=line.number)
        return job


# --- gone -----------------------------------------------------------------------------------------------------


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
        _end_work(part, terms.HAND_OVER, by, day, tally_of(part).handed_over)
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


def make_way_for_loss(part: Part, quantity: int, *, by: User | None, today: date) -> None:
    """Plants lost that were ready are ready no more: those nobody ordered first, then the latest pickup's."""
    tally = tally_of(part)
    over = (tally.ready or 0) - (tally.grown - quantity)
    lines = {a.line_id: a.line for a in part.allocations.select_related("line")}
    for pk in sorted(tally.ready_by_line, key=lambda pk: _given_up_first(lines.get(pk) if pk else None)):
        line, ready = lines.get(pk) if pk else None, tally.ready_by_line[pk]
        fewer = min(over, ready - (tally.handed_over_to(pk) if pk else 0))
        if fewer > 0:
            over -= fewer
            counts.add(part=part, kind=Count.Kind.READY, quantity=ready - fewer, by=by, today=today, line=line)
            if line:
                mark_line_ready(line, by=by)


def _given_up_first(line: OrderLine | None) -> tuple[bool, int]:
    return line is not None, -(line.pickup or line.pickup_asked).toordinal() if line else 0


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
            _end_work(part, terms.HAND_OVER, by, today)
            _gone(part, today)
    line.refresh_from_db()
    return line


def most_ready(line: OrderLine) -> int:
    """The most plants of a line that can be ready: those meant for it that live or were collected."""
    return sum(min(share.allocation.quantity, share.tally.grown) for share in shares_of(line))


def spare_of(line: OrderLine) -> int:
    """Living plants of the line's parts that no line was promised."""
    spare = 0
    for share in shares_of(line):
        meant = sum(share.part.allocations.values_list("quantity", flat=True))
        spare += max(0, share.tally.grown - meant)
    return spare


def stands_of(line: OrderLine) -> list[Stay]:
    """Where the plants of a line stand now."""
    parts = Part.objects.filter(allocations__line=line)
    return list(
        Stay.objects.filter(part__in=parts, entered=True, left=False)
        .select_related("place", "container")
        .order_by("first")
    )
