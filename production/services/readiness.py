"""What is ready, by count, and who is told. Counting sends nothing: a person who has seen the number does."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders import history, states
from orders.jobs import enqueue
from orders.models import Job, OrderLine, User
from orders.refusals import Refused
from orders.services import mark_growing, mark_ready

from ..models import Allocation, Count, Part, Stay, Work
from ..planning import terms
from ..queries.pending import notice_key
from ..queries.tally import Tally, tallies_of, tally_of
from . import counts, replan
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
    rows = line.allocations.select_related("part__batch", "line__order")
    allocations = list(rows.order_by("part__ready_day", "part__number", "part_id"))
    tallies = tallies_of([allocation.part for allocation in allocations])
    return [Share(allocation, tallies[allocation.part_id]) for allocation in allocations]


def most_ready(line: OrderLine) -> int:
    """The most plants of a line that can be ready: those meant for it that live or were collected."""
    return sum(min(share.allocation.quantity, share.tally.grown) for share in shares_of(line))


def spare_of(line: OrderLine) -> int:
    """Living plants of the line's parts that no line was promised."""
    shares = shares_of(line)
    allocated = Allocation.objects.filter(part__in=[share.part for share in shares]).order_by()
    meant = dict(allocated.values_list("part_id").annotate(sum=Sum("quantity")))
    return sum(max(0, share.tally.grown - meant[share.part.pk]) for share in shares)


def stands_of(line: OrderLine) -> list[Stay]:
    """Where the plants of a line stand now."""
    parts = Part.objects.filter(allocations__line=line)
    return list(
        Stay.objects.filter(part__in=parts, entered=True, left=False)
        .select_related("place", "container")
        .order_by("first")
    )


# --- counted ready -----------------------------------------------------------------------------------------------


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
            end_work(part, terms.COUNT_READY, by, today, number)
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


def end_work(part: Part, kind: str, by: User | None, today: date, plants: int | None = None) -> None:
    """Work that was recorded in another way is done, with so many plants."""
    part.works.filter(kind=kind, state=Work.State.PLANNED).update(
        state=Work.State.DONE, done_on=today, recorded_at=timezone.now(), done_by=by.shown_name if by else "",
        done_plants=plants,
    )  # fmt: skip


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


# --- the notice --------------------------------------------------------------------------------------------------


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
