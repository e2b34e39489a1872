"""What the calendar, the places and the hands allow one course to do, stage by stage and day by day.

Days are indexes of the load. Arrays run over a window of days, since most questions concern the few weeks before
one pickup; windows are cut at the same days for all pickups, so that neighbours share them. Each stage is judged
by itself here; whether the stages of one plan get into each other's way is seen when the plan is settled.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain, islice, pairwise, product
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from . import windows
from .asked import outside_model
from .clocks import OutsideModel
from .hands import ANY_TIME
from .legs import Course, Leg, SideCourse
from .load import Bools, Floats, Load
from .remembered import Remembered
from .terms import SOW, Impossible, Nights, Place, Warmth, WorkPlan
from .works import hours_of, on_open_day, ruled

Rows = tuple[int, ...]  # places, as rows of the load
WINDOW = 64  # days

Number = TypeVar("Number", bound=np.generic)


@dataclass(frozen=True, slots=True)
class Sown:
    """One side sown on a day, and the places (all of one warmth) where it germinates and is raised.

    Days are indexes of the load; `off` is the distance from the day that would suit the stem best. From the day on
    which it is `raised` until the start it is held cold, if that is not the same day.
    """

    day: int
    emerges: int
    raised: int
    off: int
    germinating: Rows
    raising: Rows
    holding: Rows = ()


@dataclass(frozen=True, slots=True)
class Window:
    """Days from `first` on. Of each leg and of the wait: [nights − shortest, day of entry − first] → may it be."""

    first: int
    legs: list[Bools]
    waiting: Bools


class Allowed:
    """Which entries and nights each leg may have, and on which day each side may be sown for a start."""

    def __init__(self, load: Load, course: Course) -> None:
        self.load = load
        self.course = course
        self.departures: dict[tuple[int, int], Any] = {}  # kept by `backward`
        self._rows: dict[tuple[str, str], Rows] = {}
        self._best_sown: dict[int, tuple[Sown, ...] | None] = {}
        self._sown: dict[tuple[int, int], Remembered[Sown]] = {}
        self._raised: dict[tuple[int, int], Remembered[Sown]] = {}
        self._windows: dict[tuple[int, int], Window] = {}
        self._warmths: dict[tuple[str, str], list[Rows]] = {}
        self._free: dict[tuple[str, str], dict[int, Floats]] = {}
        self._works: dict[tuple[str, int, str, int, int], tuple[WorkPlan, ...]] = {}
        self._hands: dict[tuple[str, int, str, int, int], bool] = {}
        self.trouble: Impossible | None = None  # why a clock gave no answer, if one did not

    def window(self, first: int, last: int) -> Window:
        """What each leg may do on the days from first to last, and some around them."""
        key = (first // WINDOW, last // WINDOW)
        if key not in self._windows:
            self._windows[key] = self._window(key[0] * WINDOW, min((key[1] + 1) * WINDOW, self.load.size))
        return self._windows[key]

    def _window(self, first: int, end: int) -> Window:
        legs = [self._leg(leg, first, end) for leg in self.course.legs]
        if self.course.wish.kind == "grafted":
            legs[0] &= self.load.open[first:end]
        waiting = self.course.waiting
        return Window(first, legs, self._leg(waiting, first, end) if waiting else np.ones((1, end - first), bool))

    def rows(self, leg: Leg) -> Rows:
        """Places for a leg, the preferred ones first."""
        key = (leg.subject, leg.stage.key)
        if key not in self._rows:
            places = leg.places(self.load.season.places)
            self._rows[key] = tuple(self.load.row[place.key] for place in places)
        return self._rows[key]

    def works(self, leg: Leg, first: int, leaves: int) -> tuple[WorkPlan, ...]:
        """The work that the protocol lists for a leg from `first` until the plants leave."""
        key = (leg.subject, leg.sowing, leg.stage.key, first, leaves)
        if key not in self._works:
            entered, left = self.load.days[first], self.load.days[leaves]
            works = ruled(leg, entered, left)
            self._works[key] = tuple(on_open_day(work, self.load.season.calendar, entered, left) for work in works)
        return self._works[key]

    def finds_hands(self, leg: Leg, first: int, leaves: int) -> bool:
        """Whether each piece of that work finds its hands, by itself."""
        key = (leg.subject, leg.sowing, leg.stage.key, first, leaves)
        if key not in self._hands:
            load = self.load
            self._hands[key] = all(
                load.hours_fit(load.index(work.day), work.hours, work.part, work.care)
                for work in self.works(leg, first, leaves)
            )
        return self._hands[key]

    def sown(self, start: int) -> tuple[Sown, ...] | None:
        """The best sowings of all sides for plants that start (are grafted, or leave raising) on that day."""
        if start not in self._best_sown:
            self._best_sown[start] = self._sown_for(start)
        return self._best_sown[start]

    def _sown_for(self, start: int) -> tuple[Sown, ...] | None:
        found: list[Sown] = []
        for side, times in self.successions:
            ways = self.in_succession(side, times, start)
            best = next(ways, None) if times == 1 else min(ways, key=unsuited, default=None)
            if best is None:
                return None
            found += best
        return tuple(found)

    @cached_property
    def successions(self) -> list[tuple[int, int]]:
        """Of each side that is not itself a later sowing, its number and how often it is sown."""
        sides = self.course.sides
        firsts = [number for number, side in enumerate(sides) if not side.apart]
        return [(first, after - first) for first, after in pairwise([*firsts, len(sides)])]

    def in_succession(self, side: int, times: int, start: int) -> Iterator[tuple[Sown, ...]]:
        """From each first sowing, the others that follow it."""
        for first in self.sowings(side, start):
            found = [first]
            for number in range(side + 1, side + times):
                later = (each for each in self.sowings(number, start) if self.follows(number, found[-1], each))
                found += islice(later, 1)
            if len(found) == times:
                yield tuple(found)

    def follows(self, side: int, before: Sown, sown: Sown) -> bool:
        """Whether a sowing may come after the one before it: so many days later, and up on a later day."""
        return sown.day == self.day_after(side, before.day) and sown.emerges > before.emerges

    def day_after(self, side: int, day: int) -> int | None:
        """The first open day so many days after the sowing before."""
        due = day + self.course.sides[side].apart
        return next((each for each in range(due, self.load.size) if self.load.open[each]), None)

    def sowings(self, side: int, start: int) -> Remembered[Sown]:
        """Every sowing of a side for that start, the one that suits the stem best first in each warmth.

        Those that need not be held cold come first, then those held for the fewest nights.
        """
        key = (side, start)
        if key not in self._sown:
            self._sown[key] = Remembered(self._sowings(side, start))
        return self._sown[key]

    # --- legs ---

    def _leg(self, leg: Leg, first: int, end: int) -> Bools:
        """[nights − shortest, day of entry − first] → may it be."""
        nights, days = leg.nights, end - first
        fits = self._standing(leg, first, end)
        skipped = 0 if nights.shortest else 1  # plants that spend no night here skip the stage and its work
        for rule in leg.stage.works:
            reach = slice(first, end + max(nights.longest, rule.after))
            hours = hours_of(rule, leg.plants)
            may = _padded(self.load.days_for(hours, rule.part, rule.care, reach), reach.stop - first)
            if rule.at_end:
                fits[skipped:] &= later(may, nights.longest + 1, days)[nights.shortest + skipped :]
            else:
                fits[skipped:] &= may[rule.after : rule.after + days]
        return fits

    def _standing(self, leg: Leg, first: int, end: int) -> Bools:
        """The same of room alone: do the containers find it so long, over as many places as it takes."""
        longest, days = leg.nights.longest, end - first
        together: Floats = np.zeros((longest + 1, days))
        for row in self.rows(leg):
            unit = leg.unit_in(self.load.season.places[row])
            free = _padded(self.load.free_by_night(row, unit, slice(first, end + longest)), days + longest)
            together[0] += leg.containers
            together[1:] += np.minimum.accumulate(later(free, longest, days), axis=0)
        fits: Bools = together[leg.nights.shortest :] >= leg.containers
        return fits

    # --- sides ---

    def _sowings(self, side: int, start: int) -> Iterator[Sown]:
        course = self.course.sides[side]
        for held in range(course.longest_hold + 1):
            if self._may_hold(course, start - held, start):
                holding = self.rows(course.holding) if held and course.holding else ()
                for sown in self._raised_until(side, start - held):
                    yield replace(sown, holding=holding) if holding else sown

    def _raised_until(self, side: int, raised: int) -> Remembered[Sown]:
        """Found once for all starts until which seedlings might be held from that day on."""
        key = (side, raised)
        if key not in self._raised:
            course = self.course.sides[side]
            warmths = product(self._by_warmth(course.germinating), self._by_warmth(course.raising))
            found = (self._sowings_in(side, raised, germination, raising) for germination, raising in warmths)
            self._raised[key] = Remembered(chain.from_iterable(found))
        return self._raised[key]

    def _may_hold(self, side: SideCourse, raised: int, start: int) -> bool:
        leg = side.holding
        return leg is None or (raised >= 0 and self.stands(leg, self.rows(leg), raised, start))

    def _by_warmth(self, leg: Leg) -> list[Rows]:
        """Places that are equally warm, so that one sowing may be divided over them."""
        key = (leg.subject, leg.stage.key)
        if key not in self._warmths:
            groups: dict[Warmth, list[int]] = {}
            for row in self.rows(leg):
                groups.setdefault(self._place(row).warmth, []).append(row)
            self._warmths[key] = [tuple(rows) for rows in groups.values()]
        return self._warmths[key]

    def _sowings_in(self, number: int, raised: int, germination: Rows, raising: Rows) -> Iterator[Sown]:
        side, may_sow = self.course.sides[number], self._sowing_days[number]
        germ, raise_ = self._place(germination[0]).warmth, self._place(raising[0]).warmth
        try:
            window = windows.sowing_window(side, self.load.days[raised], germ, raise_)
            if window is None:
                return
            first, aim, last = (self.load.index(day) for day in window)
            if side.material.seed_on_hand:
                first = max(first, self.load.index(side.material.seed_on_hand))
            for day in nearest_first(aim, max(first, 0), min(last, raised)):
                if not may_sow[day]:
                    continue
                emerges = self.load.index(windows.emerges(side, self.load.days[day], germ))
                sown = Sown(day, emerges, raised, day - aim, germination, raising)
                if not _within(side.germinating.nights, emerges - day):
                    continue
                if emerges <= raised and self._side_stands(side, sown):
                    yield sown
        except OutsideModel as outside:
            self.trouble = outside_model(side, outside)

    @cached_property
    def _sowing_days(self) -> list[Bools]:
        found = []
        for side in self.course.sides:
            days = self.load.days_for((), ANY_TIME, care=False)
            for rule in side.germinating.stage.works:
                if rule.kind == SOW:
                    days = days & self.load.days_for(hours_of(rule, side.seeds), rule.part, care=False)
            found.append(days)
        return found

    def _side_stands(self, side: SideCourse, sown: Sown) -> bool:
        return self.stands(side.germinating, sown.germinating, sown.day, sown.emerges) and self.stands(
            side.raising, sown.raising, sown.emerges, sown.raised
        )

    def stands(self, leg: Leg, rows: Sequence[int], first: int, leaves: int) -> bool:
        if first == leaves:
            return True
        places = self.load.season.places
        return (
            sum(self.load.free_containers(row, leg.unit_in(places[row]), first, leaves) for row in rows)
            >= leg.containers
        )

    def free(self, leg: Leg) -> dict[int, Floats]:
        """By place, the whole containers of a leg that it can still take each night."""
        key = (leg.subject, leg.stage.key)
        if key not in self._free:
            places = self.load.season.places
            self._free[key] = {
                row: self.load.free_by_night(row, leg.unit_in(places[row])) for row in self.rows(leg)
            }
        return self._free[key]

    def _place(self, row: int) -> Place:
        return self.load.season.places[row]


def _within(bound: Nights, nights: int) -> bool:
    """Whether nights that a clock sets are inside what the protocol allows; a longest of 0 allows any."""
    return not bound.longest or bound.shortest <= nights <= bound.longest


def unsuited(sowings: tuple[Sown, ...]) -> tuple[int, int]:
    """Nights for which they would be held cold, and days away from those that suit the stems best."""
    return -sum(each.raised for each in sowings), sum(abs(each.off) for each in sowings)


def nearest_first(aim: int, first: int, last: int) -> Iterator[int]:
    """Days from first to last, by distance from the aim, the earlier of two equals before the later."""
    yield from sorted(range(first, last + 1), key=lambda day: (abs(day - aim), day))


def later(values: npt.NDArray[Number], shifts: int, days: int) -> npt.NDArray[Number]:
    """[shift, day] → the value so many days later: views of an array of `shifts` + `days` − 1 values at least."""
    return np.ndarray((shifts, days), values.dtype, values, strides=values.strides * 2)


def _padded(values: npt.NDArray[Number], length: int) -> npt.NDArray[Number]:
    """Nothing is known, and so nothing allowed, after the last day of the load."""
    padded = np.zeros(length, values.dtype)
    padded[: len(values)] = values
    return padded
