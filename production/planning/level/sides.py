"""What leads up to a start: sowings of all sides that fit beside each other, their places and their work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from production.planning.allowed import Sown
from production.planning.level.free import Free, run_lengths
from production.planning.level.needs import Days, SideNeeds, Stay, Succession, Work
from production.planning.level.sowings import Sowings
from production.planning.load import Bools
from production.planning.settle import Spread
from production.planning.terms import Subject


@dataclass(slots=True)
class Sides:
    """Sowings of all sides for one start."""

    sown: list[Sown] = field(default_factory=list)
    stays: list[Stay] = field(default_factory=list)
    work: list[Work] = field(default_factory=list)
    chosen: dict[tuple[Subject, str, int], Spread] = field(default_factory=dict)
    last: Spread = ()  # where the last of them stands until the start


class Together:
    """The sowings of all sides for many starts: which of them may stand beside each other.

    Those of two sides crowd each other most in the place where both germinate, so pairs are first tried there, all
    at once.
    """

    def __init__(self, free: Free, each: Sequence[Sowings]) -> None:
        self.free, self.each = free, each
        first = each[0]
        numbers = np.flatnonzero(first.fits & ~first.held)
        self.rows = [numbers] if len(each) == 1 else self._pairs(numbers, each[1])
        self._starts: Days = first.starts[self.rows[0]]

    def _pairs(self, numbers: Days, second: Sowings) -> list[Days]:
        """Each of these of the first side with each of the second for the same start, as rows of both."""
        begin, end = second.firsts(self.each[0].starts[numbers])
        times = end - begin
        ones = np.repeat(numbers, times)
        others = np.arange(len(ones)) + np.repeat(begin - np.cumsum(times) + times, times)
        may = second.fits[others] & ~second.held[others]
        ones, others = ones[may], others[may]
        beside = self._beside(ones, others)
        return [ones[beside], others[beside]]

    def _beside(self, ones: Days, others: Days) -> Bools:
        """Whether what germinates of both finds room in the same place."""
        first, second = self.each
        places = [sowings.places[0][0][0] if len(sowings.places) == 1 else () for sowings in self.each]
        legs = [sowings.sides[0].legs[0] for sowings in self.each]
        if len(first.sides) + len(second.sides) > 2 or places[0] != places[1] or len(places[0]) != 1:
            return np.ones(len(ones), bool)
        row = places[0][0]
        both = sum(leg.containers * leg.units[row] for leg in legs)
        enough = run_lengths(self.free.has_room(row, both))
        begin = np.maximum(first.days[0, 0, ones], second.days[0, 0, others])
        end = np.minimum(first.days[0, 1, ones], second.days[0, 1, others])
        beside: Bools = begin + enough[begin] >= end
        return beside

    @property
    def starts(self) -> Days:
        """The starts that have any; also those that have some only if they are held cold."""
        if not any(sowings.held.any() for sowings in self.each):
            return np.unique(self._starts)
        each = (set(sowings.starts[sowings.fits].tolist()) for sowings in self.each)
        return np.array(sorted(set.intersection(*each)), np.int64)

    def sides(self, start: int, held: bool) -> Sides | None:
        """The preferred ones for a start that fit together; held cold before it only with `held`."""
        for rows in self._held(start) if held else self._not_held(start):
            sides = self._stand([s.way(row) for s, row in zip(self.each, rows, strict=True)], start)
            if sides:
                return sides
        return None

    def _not_held(self, start: int) -> Iterable[tuple[int, ...]]:
        there = slice(*np.searchsorted(self._starts, [start, start + 1]))
        return zip(*(rows[there].tolist() for rows in self.rows), strict=True)

    def _held(self, start: int) -> Iterator[tuple[int, ...]]:
        may = ([row for row in sowings.rows(start) if sowings.fits[row]] for sowings in self.each)
        return product(*may)

    def _stand(self, ways: Sequence[Succession], start: int) -> Sides | None:
        """All of these beside each other, if that can be; what is free is left as it is."""
        sides = Sides()
        pairs = zip(self.each, ways, strict=True)
        each = [pair for sowings, way in pairs for pair in zip(sowings.sides, way, strict=True)]
        fits = all(self._let_stand(needs, sown, start, sides) for needs, sown in each)
        for stay in sides.stays:
            self.free.give_back(*stay)
        return sides if fits and self.free.finds_hands(sides.work) else None

    def _let_stand(self, needs: SideNeeds, sown: Sown, start: int, sides: Sides) -> bool:
        sides.sown.append(sown)
        sides.work += needs.works(sown, start)
        sides.last = ()
        for leg, rows, first, leaves in needs.turns(sown, start):
            spread = self.free.spread(leg, near_first(rows, sides.last), first, leaves)
            if spread is None:
                return False
            sides.chosen[leg.key] = sides.last = spread
            for stay in leg.stays(spread, first, leaves):
                self.free.take_room(*stay)
                sides.stays.append(stay)
        return True


def near_first(rows: Sequence[int], near: Spread) -> Sequence[int]:
    """Where the plants stand already comes first, if it can be."""
    here = [row for row, _count in near if row in rows]
    return [*here, *(row for row in rows if row not in here)] if here else rows
