"""The plan: numbers, sowings, stays, work, and why each day is what it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from .season import Wish
from .words import PartOfDay, Subject


@dataclass(frozen=True, slots=True)
class Sizing:
    """How much to sow and graft for one line or part, and the chance that it is enough."""

    grafts: int  # 0 for a plain line
    rootstock_seeds: int  # 0 for a plain line
    scion_seeds: int  # for a plain line: its seeds
    chance: float
    expected: float  # plants to be expected at the end


@dataclass(frozen=True, slots=True)
class SowingPlan:
    subject: Subject  # rootstock, scion or plain
    material: str
    day: date
    seeds: int
    container: str
    trays: int
    emerges: date
    graftable_from: date | None = None  # None for a plain line
    graftable_to: date | None = None
    number: int = 1  # among the sowings of its side


@dataclass(frozen=True, slots=True)
class StayPlan:
    """A stand in one place: holds the nights first … first+nights−1, moves on during `leaves`."""

    subject: Subject
    stage: str
    stage_kind: str
    place: str
    first: date
    nights: int
    container: str
    containers: int
    load: float  # in the place's measure
    sowing: int = 1  # before the graft: the number of the sowing of its side whose plants stand here

    @property
    def leaves(self) -> date:
        return self.first + timedelta(days=self.nights)


@dataclass(frozen=True, slots=True)
class WorkPlan:
    kind: str
    subject: Subject
    stage: str
    day: date
    part: PartOfDay
    plants: int
    hours: tuple[tuple[str, float], ...]  # by skill
    care: bool = False
    note: str = ""
    sowing: int = 1  # before the graft: the number of the sowing of its side that it concerns

    @property
    def total_hours(self) -> float:
        return sum(hours for _, hours in self.hours)


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a date is what it is, in words: ('graft', date, '4 nights healing + 5 hardening + …')."""

    what: str
    day: date
    why: str


@dataclass(frozen=True, slots=True)
class PartPlan:
    """Plants of one batch that are grafted on one day and go through the nights together."""

    number: int
    plants: int  # wanted of this part
    sizing: Sizing
    graft_day: date | None
    ready: date
    sowings: tuple[SowingPlan, ...]
    stays: tuple[StayPlan, ...]
    works: tuple[WorkPlan, ...]
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class LinePlan:
    wish: Wish
    pickup: date  # the day promised, inside the latitude
    parts: tuple[PartPlan, ...]
    cost: float = 0.0  # hours and bench at Season.prices, and seed where its price is known

    @property
    def as_if_asked(self) -> LinePlan:
        """The same as the answer to its own pickup: for a plan that lies outside the latitude on purpose."""
        return replace(self, wish=replace(self.wish, pickup=self.pickup))

    @property
    def stays(self) -> tuple[StayPlan, ...]:
        return tuple(stay for part in self.parts for stay in part.stays)

    @property
    def works(self) -> tuple[WorkPlan, ...]:
        return tuple(work for part in self.parts for work in part.works)

    @property
    def sowings(self) -> tuple[SowingPlan, ...]:
        return tuple(sowing for part in self.parts for sowing in part.sowings)

    @property
    def first_day(self) -> date:
        days = [stay.first for stay in self.stays] + [work.day for work in self.works]
        return min(days, default=self.pickup)
