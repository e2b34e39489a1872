"""The nursery: places, containers, people, the calendar and prices."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from .words import Span


@dataclass(frozen=True, slots=True)
class Warmth:
    """The 24-hour mean temperature of a place, °C: the usual one, and spells of another."""

    usual: float
    spells: tuple[tuple[Span, float], ...] = ()

    def on(self, day: date) -> float:
        for span, degrees in self.spells:
            if day in span:
                return degrees
        return self.usual


@dataclass(frozen=True, slots=True)
class Place:
    """Where plants stand. `capacity` is in positions (tray places) or in m², as `measure` says."""

    key: str
    name: str
    kinds: frozenset[str]
    measure: Literal["positions", "area"]
    capacity: float
    warmth: Warmth
    open_spans: tuple[Span, ...] = ()  # none: open all year

    def capacity_on(self, night: date) -> float:
        if self.open_spans and not any(night in span for span in self.open_spans):
            return 0.0
        return self.capacity


@dataclass(frozen=True, slots=True)
class Container:
    """A plug tray, or a carrying tray of pots: how many plants it holds and what it takes up."""

    key: str
    name: str
    plants: int
    positions: float
    area: float  # m²

    def load_in(self, place: Place) -> float:
        """What one of these takes of the place's capacity, in the place's own measure."""
        return self.positions if place.measure == "positions" else self.area


Said = float | None
SaidByWeekday = tuple[Said, Said, Said, Said, Said, Said, Said]
UNSAID: SaidByWeekday = (None,) * 7


@dataclass(frozen=True, slots=True)
class Person:
    """Hours by weekday (Monday first) on open days, care hours on closed days, and skills.

    `mornings` and `evenings` say how many of a weekday's hours lie in that part of the day; None: nothing is said.
    Hours said to be in a part do for work of that part and for work of any time of the day; the others for work of
    any time, and of each part of which nothing is said. Care hours do for any part.
    """

    key: str
    name: str
    skills: frozenset[str]
    hours: tuple[float, float, float, float, float, float, float]
    care_hours: float = 0.0
    away: tuple[Span, ...] = ()
    mornings: SaidByWeekday = UNSAID
    evenings: SaidByWeekday = UNSAID

    @property
    def has_parts(self) -> bool:
        return self.mornings != UNSAID or self.evenings != UNSAID


@dataclass(frozen=True, slots=True)
class Calendar:
    """Which days are open for work that may not fall on a closed one."""

    open_weekdays: frozenset[int]  # Monday 0
    closed: frozenset[date] = frozenset()

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.open_weekdays and day not in self.closed


@dataclass(frozen=True, slots=True)
class Prices:
    """What an hour of work and a square metre of bench for a week cost, to compare ways out."""

    hour: float = 0.0
    metre_week: float = 0.0
