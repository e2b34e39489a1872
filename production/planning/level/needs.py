"""What plants of one kind need, as numbers: stage by stage, and for each start the sowings that lead to it.

Nothing here depends on what a season has room for, so that it is found once for all lines of a kind.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

import numpy as np
import numpy.typing as npt

from production.planning.allowed import Allowed, Rows, Sown, unsuited
from production.planning.backward import NIGHT
from production.planning.course import course_of
from production.planning.legs import Course, Leg, SideCourse
from production.planning.load import Load
from production.planning.options import Ways, part_sizes
from production.planning.settle import Spread
from production.planning.terms import HAND_OVER, Impossible, Wish, WorkRule
from production.planning.works import hours_of

BLOCK = 32  # starts looked at together

Hours = tuple[tuple[int, float], ...]  # by set of skills, by its row on the load
Work = tuple[int, int, float]  # set of skills, day, hours
Stay = tuple[int, int, int, float]  # row of the place, first night, day of leaving, load
Amounts = npt.NDArray[np.int32]
Days = npt.NDArray[np.int64]
Succession = tuple[Sown, ...]  # one sowing of a side, or all that follow each other


@dataclass(frozen=True, slots=True)
class Task:
    """Work of a stage, so many nights after plants enter it, or on the day they leave."""

    hours: Hours
    after: int
    at_end: bool
    care: bool


class LegNeeds:
    """A stage: containers, what one of them takes of each place, nights and work."""

    def __init__(self, load: Load, allowed: Allowed, leg: Leg) -> None:
        self.key, self.containers = leg.key, leg.containers
        self.shortest, self.usual, self.longest = leg.nights.shortest, leg.nights.usual, leg.nights.longest
        self.rows = allowed.rows(leg)
        self.units = {row: leg.unit_in(load.season.places[row]) for row in self.rows}
        rules = leg.stage.works
        self.tasks = tuple(_task(load, rule, leg.plants) for rule in rules if rule.kind != HAND_OVER)
        # As in `allowed`, a stage ends only on a day on which they could be handed over, where that is listed.
        self.bounds = tuple(_task(load, rule, leg.plants) for rule in rules)

    def stays(self, spread: Spread, first: int, leaves: int) -> list[Stay]:
        return [(row, first, leaves, containers * self.units[row]) for row, containers in spread]

    def works(self, first: int, leaves: int) -> Iterator[Work]:
        for task in self.tasks:
            day = leaves if task.at_end else first + task.after
            yield from ((index, day, hours) for index, hours in task.hours)


def _task(load: Load, rule: WorkRule, plants: int) -> Task:
    hours = load.by_set(hours_of(rule, plants), rule.part)
    return Task(tuple(sorted(hours.items())), rule.after, rule.at_end, rule.care)


class SideNeeds:
    """A sowing of a side, from the seed to the start."""

    def __init__(self, load: Load, allowed: Allowed, side: SideCourse) -> None:
        self.load, self.allowed, self.side = load, allowed, side
        self.legs = [LegNeeds(load, allowed, leg) for leg in side.legs]
        self._works: dict[tuple[int, int, int, int], tuple[Work, ...]] = {}

    def turns(self, sown: Sown, start: int) -> Iterator[tuple[LegNeeds, Rows, int, int]]:
        """Each stage with the places of the warmth that was chosen, its first day and that of leaving."""
        rows = (sown.germinating, sown.raising, sown.holding)
        days = (sown.day, sown.emerges, sown.raised, start)
        for leg, there, first, leaves in zip(self.legs, rows, days, days[1:], strict=False):
            if first < leaves:
                yield leg, there, first, leaves

    def works(self, sown: Sown, start: int) -> tuple[Work, ...]:
        key = (sown.day, sown.emerges, sown.raised, start)
        if key not in self._works:
            self._works[key] = tuple(self._worked(key))
        return self._works[key]

    def _worked(self, days: tuple[int, int, int, int]) -> Iterator[Work]:
        for number, leg in enumerate(self.side.legs):
            first, leaves = days[number], days[number + 1]
            if first < leaves or leg is not self.side.holding:
                for work in self.allowed.works(leg, first, leaves):
                    hours = self.load.by_set(work.hours, work.part)
                    yield from ((index, self.load.index(work.day), each) for index, each in hours.items())


class Needs:
    """So many plants of a kind that go through the nights together."""

    def __init__(self, known: Known, course: Course) -> None:
        load, allowed = known.load, Allowed(known.unlimited, course)
        self.course, self.plants, self.keeping = course, course.plants, course.keeping
        self.legs = [LegNeeds(load, allowed, leg) for leg in course.legs]
        self.waiting = LegNeeds(load, allowed, course.waiting) if course.waiting else None
        self.sides = [SideNeeds(load, allowed, side) for side in course.sides]
        self.starts_open = course.wish.kind == "grafted"
        self.handing_over = [_task(load, rule, course.plants).hours for rule in course.handing_over]
        self.longest = course.keeping + sum(leg.longest for leg in self.legs)
        afterwards = [*self.legs, *([self.waiting] if self.waiting else [])]
        self.longest_leg = max((leg.longest for leg in afterwards), default=0)
        self.away = [self._away(number) for number in range(len(self.legs))]
        self.holds = (False, True) if any(side.side.holding for side in self.sides) else (False,)
        self.sown = [known.table(allowed, side, times) for side, times in allowed.successions]

    def _away(self, number: int) -> Amounts:
        """By nights − shortest, what departing from the usual costs; the stage's rank decides among equals."""
        leg, legs = self.legs[number], len(self.legs)
        rank = 0 if number == legs - 1 else legs - number + 1
        away = np.abs(np.arange(leg.shortest, leg.longest + 1, dtype=np.int32) - leg.usual)
        return away * np.int32(NIGHT + rank)


class SownTable:
    """For each start, the sowings of a side that the clocks and the calendar allow, the preferred first.

    Of all starts together they are rows of `days`: [which sowing, (sown, emerges, raised, start), row].
    """

    def __init__(self, allowed: Allowed, side: int, times: int) -> None:
        self.allowed, self.side, self.times = allowed, side, times
        self.begin = self.end = 0  # the starts that are known so far
        self.ways: list[Succession] = []
        self.days: Days = np.zeros((times, 4, 0), np.int64)
        self.where: Days = np.zeros(0, np.int64)  # by row, a number for the places in which it is raised
        self.places: list[tuple[tuple[Rows, ...], ...]] = []  # by that number, of each sowing
        self._rows: list[int] = [0]  # by start, its first row

    def borders(self, first: int, last: int) -> list[int]:
        """Of the starts from first to last, the first row of each, and the row after all of them."""
        if self.begin == self.end:
            self.begin = self.end = first
        if first < self.begin or last >= self.end:
            begin, end = first // BLOCK * BLOCK, (last // BLOCK + 1) * BLOCK
            self._know(min(begin, self.begin), max(end, self.end))
        return self._rows[first - self.begin : last + 2 - self.begin]

    def _know(self, begin: int, end: int) -> None:
        before, after = self._found(range(begin, self.begin)), self._found(range(self.end, end))
        known = [self.ways[first:last] for first, last in pairwise(self._rows)]
        each = [*before, *known, *after]
        self.begin, self.end = begin, end
        self.ways = [ways for start in each for ways in start]
        self._rows = [0, *accumulate(map(len, each))]
        starts = [start for start, found in enumerate(each, begin) for _ways in found]
        days = [
            [[sown.day, sown.emerges, sown.raised, start] for sown in ways]
            for ways, start in zip(self.ways, starts, strict=True)
        ]
        self.days = np.array(days, np.int64).reshape(-1, self.times, 4).transpose(1, 2, 0).copy()
        places = [tuple((s.germinating, s.raising, s.holding) for s in ways) for ways in self.ways]
        self.places = sorted(set(places))
        number = {each: at for at, each in enumerate(self.places)}
        self.where = np.array([number[each] for each in places], np.int64)

    def _found(self, starts: Iterable[int]) -> list[list[Succession]]:
        found = (
            [*self.allowed.in_succession(self.side, self.times, start)]
            for start in starts
            if start < self.allowed.load.size
        )
        return [each if self.times == 1 else sorted(each, key=unsuited) for each in found]


class Known:
    """The kinds of the lines of a board, each found once."""

    def __init__(self, load: Load) -> None:
        self.load, self.unlimited = load, load.without_limits()
        self._kinds: dict[Wish, Kind | None] = {}
        self._tables: dict[Hashable, SownTable] = {}

    def kind(self, wish: Wish) -> Kind | None:
        """None if the wish makes no sense in this nursery, whenever it is wanted."""
        alike = replace(wish, key="", label="", pickup=self.load.first, earlier=0, later=0, weight=1.0)
        if alike not in self._kinds:
            try:
                self._kinds[alike] = Kind(self, alike)
            except Impossible:
                self._kinds[alike] = None
        return self._kinds[alike]

    def table(self, allowed: Allowed, side: int, times: int) -> SownTable:
        """Shared by all numbers of plants: seeds decide on no day."""
        sides = allowed.course.sides[side : side + times]
        key = tuple((each.subject, each.material, each.apart, *(leg.stage for leg in each.legs)) for each in sides)
        if key not in self._tables:
            self._tables[key] = SownTable(allowed, side, times)
        return self._tables[key]


class Kind:
    """Plants of one kind and number, whoever wants them when; in how many parts they may go."""

    def __init__(self, known: Known, wish: Wish) -> None:
        self.known, self.wish = known, wish
        self.numbers = Ways(known.load, wish).numbers_of_parts()
        self.is_room = wish.kind == "room"
        self._needs: dict[int, Needs] = {}
        self.beyond = 1 + self.needs(self.sizes(self.numbers[0])[0]).longest_leg  # days looked at after a pickup

    def needs(self, plants: int) -> Needs:
        if plants not in self._needs:
            season = self.known.load.season
            course = course_of(self.wish, plants, season.places, season.prices)
            self._needs[plants] = Needs(self.known, course)
        return self._needs[plants]

    def sizes(self, parts: int) -> list[int]:
        return part_sizes(self.wish.quantity, parts)
