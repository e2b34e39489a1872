"""What became of promises that were only held: which end today, which lapsed, which were accepted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from orders import states
from orders.holding import ACCEPTED, LAPSED
from orders.models import HistoryEntry, Nursery, Order, OrderLine
from orders.queries import lines

from .. import bridge


@dataclass(frozen=True, slots=True)
class Answers:
    """Since the working day before: what a person at the desk has not seen yet."""

    ending: tuple[OrderLine, ...] = ()  # held, and today is the last day
    lapsed: tuple[OrderLine, ...] = ()  # let go by themselves, and not asked for again
    accepted: tuple[tuple[Order, str], ...] = ()  # by the customer through the private link, and under which name

    def __bool__(self) -> bool:
        return bool(self.ending or self.lapsed or self.accepted)


def answers(today: date, nursery: Nursery) -> Answers:
    """In three queries, and two more where there is something to tell."""
    since = _not_seen_since(today, nursery)
    rows = list(
        HistoryEntry.objects.filter(subject="order", what__in=(LAPSED, ACCEPTED), at__gte=since).order_by("pk")
    )
    return Answers(
        ending=tuple(lines().filter(state=states.HELD, hold_until__lte=today).order_by("hold_until", "pk")),
        lapsed=tuple(_lapsed([row for row in rows if row.what == LAPSED])),
        accepted=tuple(_accepted([row for row in rows if row.what == ACCEPTED])),
    )


def _not_seen_since(today: date, nursery: Nursery) -> datetime:
    """The first minute after the last open day before today: on a Monday what came at the weekend counts too."""
    calendar = bridge.calendar_of(nursery)
    day = today - timedelta(days=1)
    for _closed in range(14):
        if calendar.is_open(day):
            break
        day -= timedelta(days=1)
    return datetime.combine(day + timedelta(days=1), time(), tzinfo=ZoneInfo(nursery.time_zone))


def _lapsed(rows: Iterable[HistoryEntry]) -> Iterable[OrderLine]:
    named = {(row.subject_id, row.detail["line"]) for row in rows}
    if not named:
        return
    gone = lines().filter(state=states.LET_GO, order__in={order for order, _number in named})
    yield from (line for line in gone.order_by("pk") if (line.order_id, line.number) in named)


def _accepted(rows: Iterable[HistoryEntry]) -> Iterable[tuple[Order, str]]:
    names = {row.subject_id: str(row.detail["name"]) for row in rows}
    if names:
        for order in Order.objects.select_related("customer").filter(pk__in=names).order_by("pk"):
            yield order, names[order.pk]
