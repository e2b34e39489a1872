"""Which days the season page shows: a year, weeks, a week or a day; and the way to the others. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal
from urllib.parse import urlencode

from ..planning.calendar import week_of

View = Literal["year", "weeks", "week", "day"]
VIEWS: tuple[View, ...] = ("year", "weeks", "week", "day")
DAYS: dict[View, int] = {"year": 52 * 7, "weeks": 13 * 7, "week": 7, "day": 1}
BEHIND: dict[View, int] = {"year": 28, "weeks": 14, "week": 0, "day": 0}  # days shown before today's week
EARLIEST, LATEST = date(2000, 1, 1), date(2100, 12, 31)


@dataclass(frozen=True, slots=True)
class Scope:
    """The days `first` to `last`, both shown, at one zoom.

    `at` is a place or a skill that only is looked at, as the address says it: 'place-3', 'hands-grafting'.
    """

    view: View
    first: date
    today: date
    begins: int = 0  # first weekday, Monday 0
    at: str = ""

    @property
    def days(self) -> int:
        return DAYS[self.view]

    @property
    def last(self) -> date:
        return self.first + timedelta(days=self.days - 1)

    @property
    def step(self) -> int:
        """Days in one column (of a year: in one row)."""
        return 7 if self.view in ("year", "weeks") else 1

    @property
    def each_day(self) -> tuple[date, ...]:
        return tuple(self.first + timedelta(days=n) for n in range(self.days))

    @property
    def columns(self) -> tuple[date, ...]:
        """The first day of each column."""
        return tuple(self.first + timedelta(days=n) for n in range(0, self.days, self.step))

    @property
    def previous(self) -> str:
        return self.query(day=max(self.first - timedelta(days=self.days), EARLIEST))

    @property
    def next(self) -> str:
        return self.query(day=min(self.first + timedelta(days=self.days), LATEST))

    @property
    def now(self) -> str:
        """The same zoom around today."""
        return self.query(day=None)

    @property
    def has_today(self) -> bool:
        return self.first <= self.today <= self.last

    @property
    def zooms(self) -> tuple[tuple[View, str], ...]:
        """Each zoom with the way to it: around today where today is shown, else from the first day shown."""
        day = None if self.has_today else self.first
        return tuple((view, self.query(view=view, day=day)) for view in VIEWS)

    def query(self, *, day: date | None, view: View | None = None, at: str | None = None) -> str:
        """An address of this page, as what follows its '?'."""
        at = self.at if at is None else at
        asked = {"view": view or self.view, "day": day.isoformat() if day else "", "at": at}
        return urlencode({name: value for name, value in asked.items() if value})

    def closer(self, column: date, at: str | None = None) -> str:
        """One zoom closer: from a week's column into the week, from a day's into the day."""
        return self.query(view="week" if self.step == 7 else "day", day=column, at=at)

    def only(self, at: str) -> Scope:
        return replace(self, at=at)


def scope_of(view: View, day: date | None, *, today: date, begins: int = 0, at: str = "") -> Scope:
    """The scope that holds `day`; without one, that around today."""
    first = day or today - timedelta(days=BEHIND[view])
    if view != "day":
        first = max(week_of(first, begins), EARLIEST)
    return Scope(view, first, today, begins, at)
