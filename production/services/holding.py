"""A promise held for some days while the caller thinks: it takes its room, shows its end, and lets go by itself.

Held lines are planned, judged and stored as confirmed ones are (promise.take_room); only the word is another.
Nothing is sown for a line that is only held, so a hold ends at the latest on the day before its first work.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import Min
from django.utils.translation import gettext as _

from orders import history, states
from orders import holding as word
from orders import services as orders
from orders.days import day_words
from orders.jobs import enqueue, handler
from orders.models import HistoryEntry, Nursery, Order, OrderLine, User
from orders.refusals import Refused

from .. import bridge
from ..models import Part
from . import promise
from .answering import LineAnswer
from .common import lock_grown_for
from .joining import Joining
from .judging import lock_the_plan
from .moving import last_day_to_hold
from .promise import take_room

log = logging.getLogger(__name__)

LONGEST = 60  # days


@dataclass(frozen=True, slots=True)
class Held:
    """How long an order is held, and until when it was wanted if that was too long."""

    order: Order
    until: date
    wanted: date

    @property
    def cut_short(self) -> bool:
        """The first sowing comes before the hold would have ended."""
        return self.until < self.wanted


def hold(
    *,
    order: Order,
    by: User | None,
    today: date,
    until: date | None = None,
    lines: Sequence[OrderLine] | None = None,
    moving: bool = False,
    joining: Sequence[Joining] = (),
) -> Held:
    """Take the room of the order's asked lines (or those given), all or none, through the end of a day.

    Without `until` it is the nursery's usual number of days, or the day before the first sowing if that is sooner.
    Raises ManyRefused when a line does not fit; Refused (until) for a day that is past, too far, or after the
    first sowing. Lines that are held already keep their end. `moving` and `joining` are those of `promise.accept`.
    """
    wanted = _wanted(until, today)
    ends: list[date] = []

    def give(answers: Sequence[LineAnswer], _held: Sequence[OrderLine]) -> None:
        last = min(last_day_to_hold(said.plan) for said in answers if said.plan)
        end = _within(wanted, last, today, explicit=until is not None)
        for said in answers:
            word.mark_held(line=said.line, pickup=said.pickup, until=end, by=by)
        _see_to_its_end(end)
        ends.append(end)

    take_room(
        order=order,
        by=by,
        today=today,
        lines=lines,
        of=(states.ASKED,),
        over_conflict="",
        moving=moving,
        joining=joining,
        give=give,
    )
    if not ends:  # a second submit of the same
        found = order.lines.filter(state=states.HELD).aggregate(until=Min("hold_until"))["until"]
        if found is None:
            raise Refused(_("No line of this order is only asked for."), mend=_("There is nothing to hold."))
        return Held(order, found, found)
    return Held(order, ends[-1], wanted)


def _wanted(until: date | None, today: date) -> date:
    if until is None:
        return today + timedelta(days=Nursery.current().hold_days)
    if until < today:
        raise Refused(_("The day lies in the past."), mend=_("Choose today or a later day."), field="until")
    if until > today + timedelta(days=LONGEST):
        raise Refused(
            _("A promise is held for %(n)s days at most.") % {"n": LONGEST},
            mend=_("Choose a nearer day, or confirm it."),
            field="until",
        )
    return until


def _within(wanted: date, last: date, today: date, *, explicit: bool) -> date:
    first = day_words(last + timedelta(days=1), today)
    if last < today:
        raise Refused(
            _("Its first work is due on %(day)s, so that it cannot be held.") % {"day": first},
            mend=_("Confirm it now, or choose a later pickup."),
            field="until",
        )
    if explicit and wanted > last:
        raise Refused(
            _("Its first work is due on %(day)s, and nothing is sown for what is only held.") % {"day": first},
            mend=_("Hold it until %(last)s at most, or confirm it.") % {"last": day_words(last, today)},
            field="until",
        )
    return min(wanted, last)


def extend(*, order: Order, until: date, by: User | None, today: date) -> Held:
    """Hold the order's held lines until another day, later or sooner. Raises Refused (until) as `hold` does."""
    wanted = _wanted(until, today)
    with transaction.atomic():
        lock_the_plan()
        lines = _held(order)
        word.refuse_unless_held(lines)
        last = min((day for line in lines if (day := _first_work(line))), default=wanted) - timedelta(days=1)
        end = _within(wanted, last, today, explicit=True)
        for line in lines:
            word.hold_until(line=line, until=end, by=by)
        _see_to_its_end(end)
    return Held(order, end, wanted)


def _first_work(line: OrderLine) -> date | None:
    begins = bridge.parts_of(line).aggregate(stay=Min("stays__first"), work=Min("works__day"))
    return min((day for day in begins.values() if day), default=None)


def let_go(*, order: Order, by: User | None, why: str = "") -> Order:
    """Let go of all that is held of an order: its room is free at once."""
    with transaction.atomic():
        lock_the_plan()
        lines = _held(order)
        word.refuse_unless_held(lines)
        for line in lines:
            orders.let_go(line=line, by=by, why=why)
    return order


def _held(order: Order) -> list[OrderLine]:
    related = order.lines.select_related("order__customer", "scion__crop", "rootstock__crop", "container")
    return list(related.filter(state=states.HELD).order_by("number"))


# --- it lets go by itself -------------------------------------------------------------------------------------


def _see_to_its_end(until: date) -> None:
    """A job for the first minute of the day after, where the nursery is; one for all that ends on that day."""
    zone = ZoneInfo(Nursery.current().time_zone)
    after = datetime.combine(until + timedelta(days=1), time(0, 1), tzinfo=zone)
    enqueue("lapse_holds", f"lapse_holds:{until.isoformat()}", {"until": until.isoformat()}, run_after=after)


@handler("lapse_holds")
def lapse_job(_payload: dict[str, Any]) -> None:
    lapse(Nursery.current().today())


def lapse(today: date) -> list[OrderLine]:
    """Let go every held line whose last day is over; those let go. At any time and as often as one likes.

    What is sown already, together with what others confirmed, is left for a person to decide.
    """
    ended = OrderLine.objects.filter(state=states.HELD, hold_until__lt=today)
    if not ended.exists():
        return []
    gone = []
    with transaction.atomic():
        lock_the_plan()
        for line in ended.select_related("order__customer", "scion", "rootstock").order_by("pk"):
            if bridge.parts_of(line).exclude(state=Part.State.PLANNED).exists():
                log.warning("%s was held until %s and is sown already: not let go.", line, line.hold_until)
            elif word.lapse(line=line, today=today):
                gone.append(line)
    return gone


def ask_again(*, line: OrderLine, by: User | None) -> OrderLine:
    """A line that was let go is asked for again; MoveRefused unless it was let go."""
    word.ask_again(line=line, by=by)
    return line


# --- the customer says yes ------------------------------------------------------------------------------------


def accept_by_customer(*, order: Order, name: str, seen: str, today: date) -> Order:
    """The customer takes what is held, on the page of the private link, under a name that was typed there.

    `seen` is the fingerprint of what the page offered. Sent twice it is accepted once. Raises Refused (name)
    without a name, and with no field when the promise has ended, or is another one than the customer read.
    """
    name = " ".join(name.split())
    if not name:
        raise Refused(_("No name is given."), mend=_("Type your name."), field="name")
    by = _("%(name)s, by the private link") % {"name": name}
    with transaction.atomic():
        lock_the_plan()
        lock_grown_for(order.lines.values_list("pk", flat=True))
        lines = [line for line in _held(order) if orders.locked(line).state == states.HELD]
        if not lines and accepted(order):
            return order
        if not lines or any(line.hold_until is None or line.hold_until < today for line in lines):
            raise Refused(_("This promise has ended."), mend=_("Please ring us, and we look at it anew."))
        if word.fingerprint(lines) != seen:
            raise Refused(
                _("The order was changed while you were reading it."),
                mend=_("Please read it again, then accept it."),
            )
        history.record(
            by=by,
            what=word.ACCEPTED,
            subject=order,
            text=_("Accepted by the customer through the private link, signed “%(name)s”") % {"name": name},
            name=name,
            lines=[line.number for line in lines],
        )
        promise.accept(order=order, by=by, today=today, lines=lines)
    return order


def accepted(order: Order) -> HistoryEntry | None:
    """The history row of the customer's acceptance, the latest; None when there is none."""
    return history.of(order).filter(what=word.ACCEPTED).first()
