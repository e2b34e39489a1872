"""What the calendar, the places and the hands allow one course to do, stage by stage and day by day.

All arrays run over the days of the load. Each stage is judged by itself here; whether the stages of one plan get
into each other's way is seen when the plan is settled on the load.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from . import windows
from .asked import outside_model
from .clocks import OutsideModel
from .course import Course, Leg, SideCourse
from .load import Bools, Floats, Load
from .terms import SOW, Impossible, Place, Warmth
from .works import hours_of

if TYPE_CHECKING:
    from .backward import Departures

Rows = tuple[int, ...]  # places, as rows of the load
Values = TypeVar("Values", Bools, Floats)


@dataclass(frozen=True, slots=True)
class Sown:
    """One side sown on a day, and the places (all of one warmth) where it germinates and is raised.

    Days are indexes of the load; `off` is the distance from the day that would suit the stem best.
    """

    day: int
    emerges: int
    off: int
    germinating: Rows
    raising: Rows


class Allowed:
    """Which entries and nights each leg may have, and on which day each side may be sown for a start."""

    def __init__(self, load: Load, course: Course) -> None:
        self.load = load
        self.course = course
        self.departures: dict[tuple[int, int], Departures] = {}
        self._rows: dict[tuple[str, str], Rows] = {}
        self._sown: dict[tuple[int, int], Sown | None] = {}
        self.trouble: Impossible | None = None  # why a clock gave no answer, if one did not

    @cached_property
    def legs(self) -> list[Bools]:
        """For each leg: [nights − shortest, day of entry] → may it be."""
        legs = [self._leg(leg) for leg in self.course.legs]
        if self.course.wish.kind == "grafted":
            legs[0] &= self.load.open
        return legs

    @cached_property
    def waiting(self) -> Bools:
        """[nights, day of entry] → may ready plants wait so long."""
        waiting = self.course.waiting
        return self._leg(waiting) if waiting else np.ones((1, self.load.size), bool)

    def rows(self, leg: Leg) -> Rows:
        """Places for a leg, the preferred ones first."""
        key = (leg.subject, leg.stage.key)
        if key not in self._rows:
            places = leg.places(self.load.season.places)
            self._rows[key] = tuple(self.load.row[place.key] for place in places)
        return self._rows[key]

    def sown(self, side: int, start: int) -> Sown | None:
        """The best sowing of a side for plants that start (are grafted, or leave raising) on that day."""
        key = (side, start)
        if key not in self._sown:
            self._sown[key] = next(self.sowings(side, start), None)
        return self._sown[key]

    def sowings(self, side: int, start: int) -> Iterator[Sown]:
        """Every sowing of a side for that start, the one that suits the stem best first in each warmth."""
        return self._sowings(self.course.sides[side], start)

    # --- legs ---

    def _leg(self, leg: Leg) -> Bools:
        nights = leg.nights
        fits = self._standing(leg, nights.longest)[nights.shortest :]
        skipped = 0 if nights.shortest else 1  # plants that spend no night here skip the stage and its work
        for rule in leg.stage.works:
            days = self.load.days_for(hours_of(rule, leg.plants), rule.care)
            for row in range(skipped, len(fits)):
                fits[row] &= _shifted(days, nights.shortest + row if rule.at_end else rule.after)
        return fits

    def _standing(self, leg: Leg, longest: int) -> Bools:
        """[nights, day of entry] → do the containers find room so long, over as many places as it takes."""
        size = self.load.size
        together: Floats = np.zeros((longest + 1, size))
        for row in self.rows(leg):
            free = self._free(row, leg)
            together[0] += leg.containers
            least = np.full(size, np.inf)
            for nights in range(1, longest + 1):
                least = np.minimum(least, _shifted(free, nights - 1))
                together[nights] += least
        return together >= leg.containers

    def _free(self, row: int, leg: Leg) -> Floats:
        return self.load.free_by_night(row, leg.unit_in(self.load.season.places[row]))

    # --- sides ---

    def _sowings(self, side: SideCourse, start: int) -> Iterator[Sown]:
        for germination in self._by_warmth(side.germinating):
            for raising in self._by_warmth(side.raising):
                yield from self._sowings_in(side, start, germination, raising)

    def _by_warmth(self, leg: Leg) -> list[Rows]:
        """Places that are equally warm, so that one sowing may be divided over them."""
        groups: dict[Warmth, list[int]] = {}
        for row in self.rows(leg):
            groups.setdefault(self._place(row).warmth, []).append(row)
        return [tuple(rows) for rows in groups.values()]

    def _sowings_in(self, side: SideCourse, start: int, germination: Rows, raising: Rows) -> Iterator[Sown]:
        germ, raise_ = self._place(germination[0]).warmth, self._place(raising[0]).warmth
        try:
            window = windows.sowing_window(side, self.load.days[start], germ, raise_)
            if window is None:
                return
            first, aim, last = (self.load.index(day) for day in window)
            if side.material.seed_on_hand:
                first = max(first, self.load.index(side.material.seed_on_hand))
            for day in nearest_first(aim, max(first, 0), min(last, start)):
                if not self._may_sow(side)[day]:
                    continue
                emerges = self.load.index(windows.emerges(side, self.load.days[day], germ))
                sown = Sown(day, emerges, day - aim, germination, raising)
                if emerges <= start and self._side_stands(side, sown, start):
                    yield sown
        except OutsideModel as outside:
            self.trouble = outside_model(side, outside)

    def _may_sow(self, side: SideCourse) -> Bools:
        return self._sowing_days[self.course.sides.index(side)]

    @cached_property
    def _sowing_days(self) -> list[Bools]:
        found = []
        for side in self.course.sides:
            days = self.load.days_for((), care=False)
            for rule in side.germinating.stage.works:
                if rule.kind == SOW:
                    days = days & self.load.days_for(hours_of(rule, side.seeds), care=False)
            found.append(days)
        return found

    def _side_stands(self, side: SideCourse, sown: Sown, start: int) -> bool:
        return self.stands(side.germinating, sown.germinating, sown.day, sown.emerges) and self.stands(
            side.raising, sown.raising, sown.emerges, start
        )

    def stands(self, leg: Leg, rows: Sequence[int], first: int, leaves: int) -> bool:
        if first == leaves:
            return True
        return sum(float(self.free(leg)[row][first:leaves].min()) for row in rows) >= leg.containers

    def free(self, leg: Leg) -> dict[int, Floats]:
        """By place, the whole containers of a leg that it can still take each night."""
        key = (leg.subject, leg.stage.key)
        if key not in self._free_by_leg:
            self._free_by_leg[key] = {row: self._free(row, leg) for row in self.rows(leg)}
        return self._free_by_leg[key]

    @cached_property
    def _free_by_leg(self) -> dict[tuple[str, str], dict[int, Floats]]:
        return {}

    def _place(self, row: int) -> Place:
        return self.load.season.places[row]


def nearest_first(aim: int, first: int, last: int) -> Iterator[int]:
    """Days from first to last, by distance from the aim, the earlier of two equals before the later."""
    yield from sorted(range(first, last + 1), key=lambda day: (abs(day - aim), day))


def _shifted(values: Values, by: int) -> Values:
    """The values as seen so many days earlier; nothing is known, and so nothing allowed, after the last day."""
    shifted = np.zeros_like(values)
    if by < len(values):
        shifted[: len(values) - by] = values[by:]
    return shifted
