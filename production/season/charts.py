"""Charts of the season as plain data: bars by week over one axis, with a limit where there is one. Reads only.

A chart's figures are those of its table and of its file: what is drawn can always be read.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import states
from orders.days import day_words
from orders.models import Nursery, OrderLine

from ..planning.calendar import week_of
from ..planning.load import Load
from ..sheet import WEEK, Box, Row
from .carried import carried
from .grid import cut, rows_of, used
from .scope import Scope
from .standing import amount_words

LEAST = 12  # weeks on a chart
CROPS = 5  # told apart in one bar; what is left is 'others'
COUNTING = (states.HELD, states.COLLECTED, *states.PROMISED)


@dataclass(frozen=True, slots=True)
class Lane:
    """Bars on one axis: for each week its parts from below, and the limit of all of them together, if any."""

    label: str
    says: str
    bars: tuple[tuple[float, ...], ...]
    limits: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """Lanes over the same weeks. `fills` names the look of each part of a bar, `legend` what it means."""

    key: str
    weeks: tuple[date, ...]
    lanes: tuple[Lane, ...]
    fills: tuple[str, ...]
    legend: tuple[str, ...]
    today: date
    tall: bool = False


# --- what places and hands carry ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Loads:
    """Places and sets of hands by week, each week with its tightest night or day."""

    weeks: tuple[date, ...]
    rows: tuple[Row, ...]

    @property
    def by_week(self) -> list[tuple[date, tuple[Box, ...]]]:
        return list(zip(self.weeks, zip(*(row.boxes for row in self.rows), strict=True), strict=False))

    @property
    def each(self) -> list[tuple[date, Row, Box]]:
        """One after the other, as a file lists them."""
        return [(box.week, row, box) for row in self.rows for box in row.boxes]


def loads(scope: Scope, nursery: Nursery) -> Loads:
    return loads_of(carried(scope, nursery).load, scope)


def loads_of(load: Load, scope: Scope) -> Loads:
    """The weeks of the scope up to the last in which anything stands or is done, `LEAST` of them at least."""
    rows = rows_of(load, scope)
    shown = max(LEAST, used(rows))
    return Loads(scope.columns[:shown], cut(rows, shown))


def load_chart(of: Loads, today: date) -> Chart:
    return Chart(
        key="load",
        weeks=of.weeks,
        lanes=tuple(_load_lane(row, today) for row in of.rows),
        fills=("taken", "over"),
        legend=(_("taken, on the tightest night or day of the week"), _("more than there is")),
        today=today,
    )


def _load_lane(row: Row, today: date) -> Lane:
    return Lane(
        label=row.label,
        says=f"{row.room}; {_peak_words(row, today)}",
        bars=tuple((min(box.load, box.capacity), box.over) for box in row.boxes),
        limits=tuple(box.capacity for box in row.boxes),
    )


def _in_week(words: str, box: Box, today: date) -> str:
    there = {"load": amount_words(box.load), "there": amount_words(box.capacity)}
    return words % {**there, "day": day_words(box.week, today)}


def _peak_words(row: Row, today: date) -> str:
    """'most 14 of 12 in the week of Mon 15 March; too much in 2 weeks'.

    Where the tightest week is not that of the highest bar, both are told.
    """
    peak = row.peak
    if peak is None:
        return _("nothing there")
    most = max(row.boxes, key=lambda box: (box.load, box == peak))
    words = _in_week(_("most %(load)s of %(there)s in the week of %(day)s"), most, today)
    if most.load > peak.load:
        words += "; " + _in_week(_("tightest in the week of %(day)s, %(load)s of %(there)s"), peak, today)
    over = sum(box.over > 0 for box in row.boxes)
    if not over:
        return words
    return f"{words}; {ngettext('too much in %(n)d week', 'too much in %(n)d weeks', over) % {'n': over}}"


# --- orders by pickup week ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PickupWeek:
    """The plants that are promised or held for one week, by crop, and how many orders want them."""

    week: date
    plants: dict[str, int]
    orders: int

    @property
    def total(self) -> int:
        return sum(self.plants.values())


@dataclass(frozen=True, slots=True)
class Pickups:
    """`crops` from the largest down; a week without orders is there all the same."""

    crops: tuple[str, ...]
    weeks: tuple[PickupWeek, ...]

    @property
    def each(self) -> list[tuple[date, str, int]]:
        return [(week.week, crop, week.plants[crop]) for week in self.weeks for crop in week.plants]

    @property
    def table(self) -> list[tuple[PickupWeek, list[int]]]:
        """The weeks with orders, each with its plants in the order of `crops`."""
        return [(week, [week.plants.get(crop, 0) for crop in self.crops]) for week in self.weeks if week.orders]


def pickups(scope: Scope) -> Pickups:
    """Customers' lines that are held, promised or collected, by the week of their pickup within the scope."""
    lines = OrderLine.objects.filter(state__in=COUNTING, order__own_crop=False).exclude(kind=OrderLine.Kind.ROOM)
    rows = lines.annotate(day=Coalesce("pickup", "pickup_asked")).filter(day__range=(scope.first, scope.last))
    plants: dict[date, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    orders: dict[date, set[int]] = defaultdict(set)
    sums: dict[str, int] = defaultdict(int)
    for day, crop, quantity, order in rows.values_list("day", "scion__crop__name", "quantity", "order_id"):
        week = week_of(day, scope.begins)
        plants[week][crop] += quantity
        orders[week].add(order)
        sums[crop] += quantity
    last = max([*plants, scope.columns[LEAST - 1]])
    weeks = (week for week in scope.columns if week <= last)
    return Pickups(
        crops=tuple(sorted(sums, key=lambda crop: (-sums[crop], crop))),
        weeks=tuple(PickupWeek(week, dict(plants[week]), len(orders[week])) for week in weeks),
    )


def pickup_chart(of: Pickups, today: date) -> Chart:
    named, others = of.crops[:CROPS], of.crops[CROPS:]
    groups = [(crop,) for crop in named] + ([others] if others else [])
    total = sum(week.total for week in of.weeks)
    most = max(of.weeks, key=lambda week: week.total)
    says = ngettext("%(n)d plant", "%(n)d plants", total) % {"n": total}
    if total:
        words = _("%(sum)s; most in the week of %(day)s, %(n)d")
        says = words % {"sum": says, "day": day_words(most.week, today), "n": most.total}
    return Chart(
        key="pickups",
        weeks=tuple(week.week for week in of.weeks),
        lanes=(Lane(_("All crops"), says, tuple(_stack(week, groups) for week in of.weeks)),),
        fills=tuple(f"kind-{n}" for n in range(len(groups))),
        legend=(*named, _("others")) if others else named,
        today=today,
        tall=True,
    )


def _stack(week: PickupWeek, groups: Sequence[Iterable[str]]) -> tuple[float, ...]:
    return tuple(float(sum(week.plants.get(crop, 0) for crop in group)) for group in groups)


def weeks_from(first: date, last: date) -> tuple[date, ...]:
    """The weeks from that of `first`, `LEAST` of them at least, to the one that holds `last`."""
    count = max((last - first) // WEEK + 1, LEAST)
    return tuple(first + timedelta(weeks=n) for n in range(count))
