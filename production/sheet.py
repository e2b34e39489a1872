"""The sheet of days: one axis of days that runs down through rooms, hands and strands. Plain data, no tables.

The page that shows a season fills a `Sheet`; `{% sheet %}` (production/templatetags/sheets.py) draws it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from orders.strand import Axis, Strand

from .planning.calendar import week_of

WEEK = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Box:
    """The load of one place, or of one set of hands, in one week: the most of any night or day, and the room.

    `load` and `capacity` are in the row's unit. A week in which the place is closed has capacity 0. On a sheet
    whose columns are days, `week` is the day. `url` opens what the box is made of.
    """

    week: date
    load: float
    capacity: float
    url: str = ""

    @property
    def over(self) -> float:
        """How much more is asked than there is."""
        return max(self.load - self.capacity, 0.0)

    def opening(self, url: str) -> Box:
        """The same box, as a way to somewhere."""
        return replace(self, url=url)

    @property
    def share(self) -> float:
        """The load as a share of the capacity, 1 at most."""
        if self.over:
            return 1.0
        return self.load / self.capacity if self.capacity else 0.0


@dataclass(frozen=True, slots=True)
class Row:
    """A place or a set of hands, and a box for each week; `room` is what there is: '12 trays', '18 h a week'."""

    label: str
    room: str
    boxes: tuple[Box, ...]
    url: str = ""

    @property
    def peak(self) -> Box | None:
        """The box that asks most of its capacity; the earliest of equals."""
        asked = [box for box in self.boxes if box.load > 0]
        return max(asked, key=lambda box: (box.over, box.share), default=None)


@dataclass(frozen=True, slots=True)
class Line:
    """A strand with its name: code ('27', 'own'), label ('Marrowby on Kelder'), sub ('120 · splice · Dunmore')."""

    code: str
    label: str
    sub: str
    url: str
    strand: Strand


@dataclass(frozen=True, slots=True)
class Band:
    """A conflict: the nights (or days) `first` to `last`, both included, and the sentence that says it."""

    first: date
    last: date
    words: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """`weeks` are the first days of the columns shown, in order and without a gap; a column has `step` days.

    `urls` open the columns, one for each.
    """

    weeks: tuple[date, ...]
    rows: tuple[Row, ...] = ()
    lines: tuple[Line, ...] = ()
    bands: tuple[Band, ...] = ()
    today: date | None = None
    step: int = 7
    urls: tuple[str, ...] = ()

    @property
    def axis(self) -> Axis:
        return Axis(self.weeks[0], self.weeks[-1] + timedelta(days=self.step))


def weeks_over(days: Iterable[date], begins: int = 0, least: int = 8) -> tuple[date, ...]:
    """The weeks that hold all these days, `least` of them at least; weeks begin on weekday `begins`, Monday 0."""
    found = sorted(days)
    if not found:
        raise ValueError("A sheet of days needs a day to begin with.")
    first = week_of(found[0], begins)
    count = max((week_of(found[-1], begins) - first) // WEEK + 1, least)
    return tuple(first + n * WEEK for n in range(count))


def bars(
    label: str,
    room: str,
    weeks: Iterable[date],
    load: dict[date, float],
    capacity: dict[date, float],
    url: str = "",
    step: int = 7,
) -> Row:
    """A row from load and capacity by night or day: each column of `step` days shows its tightest.

    The tightest is the one most over its capacity, else the one with the least left.
    """
    return Row(label, room, tuple(_tightest(week, load, capacity, step) for week in weeks), url)


def _tightest(week: date, load: dict[date, float], capacity: dict[date, float], step: int) -> Box:
    days = [week + timedelta(days=n) for n in range(step)]
    boxes = [Box(week, load.get(day, 0.0), capacity.get(day, 0.0)) for day in days]
    return max(boxes, key=lambda box: (box.over, box.share, box.load, box.capacity))
