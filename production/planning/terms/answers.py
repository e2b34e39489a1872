"""Answers: conflicts and their causes, what is impossible, and yes or no."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from .plans import LinePlan
from .season import Wish
from .words import PartOfDay


@dataclass(frozen=True, slots=True)
class Cause:
    owner: str
    label: str
    amount: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """A place or a set of skills asked for more than there is, over a run of nights or days.

    `peak` is the most wanted on any one of them, `there` the capacity on that one; causes, largest first. `part`
    is the part of the day in which all these hours are wanted, where it is one.
    """

    resource: Literal["place", "hands"]
    key: str  # place key, or skills joined by '+', each with '@' and its part of the day where only that counts
    name: str
    unit: str  # positions, m² or hours
    first: date
    last: date
    peak: float
    there: float
    causes: tuple[Cause, ...] = ()
    part: PartOfDay = "day"


@dataclass
class Impossible(Exception):
    """A wish that nights, biology or the calendar forbid whatever the load; never stored.

    `field` names the input that should change, `earliest` the first pickup that could be, if one could.
    """

    field: str
    reason: str
    mend: str
    earliest: date | None = None

    def __str__(self) -> str:
        return f"{self.reason} {self.mend}".strip()


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to one wish, judged after the wishes before it: a plan that fits, or what stands in the way.

    When `fits` is false and nothing is impossible, `plan` is the plan closest to what was asked, which asks for
    more than there is, `conflicts` says where, and the nearest pickups that do fit stand in `earlier`/`later`.
    A no is `proved`, unless the question was too hard for the effort allowed; then it is only very likely.
    """

    wish: Wish
    fits: bool
    plan: LinePlan | None = None
    conflicts: tuple[Conflict, ...] = ()
    earlier: LinePlan | None = None
    later: LinePlan | None = None
    impossible: Impossible | None = None
    proved: bool = True
