"""Which sowings of a side find room and hands, each by itself: those of many starts at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from production.planning.allowed import Rows
from production.planning.level.free import Free
from production.planning.level.needs import Days, LegNeeds, SideNeeds, SownTable, Succession
from production.planning.load import Bools


class Sowings:
    """The sowings of a side, or of all that follow each other, for the starts from first to last.

    `fits` tells by row of the table whether it finds room and hands if it is the only one.
    """

    def __init__(self, free: Free, table: SownTable, sides: Sequence[SideNeeds], first: int, last: int) -> None:
        self.free, self.sides, self.first = free, sides, first
        self._borders = table.borders(first, last)
        there = slice(self._borders[0], self._borders[-1])
        self._ways, self.days = table.ways, table.days[:, :, there]  # as the table is now: it may grow
        self.places = table.places
        self.fits: Bools = np.ones(there.stop - there.start, dtype=np.bool_)
        for number, side in enumerate(sides):
            days = self.days[number]
            for leg, enters, leaves in zip(side.legs, days, days[1:], strict=False):
                self._find_hands(leg, enters, leaves)
            for where, places in enumerate(table.places):
                alike = np.flatnonzero(self.fits & (table.where[there] == where))
                if alike.size:
                    self._find_room(side, places[number], alike, days)

    def _find_hands(self, leg: LegNeeds, enters: Days, leaves: Days) -> None:
        """Work that would fall on a closed day is moved within its stage: of it nothing is said here."""
        for task in leg.tasks:
            days = leaves if task.at_end else enters + task.after
            last = int(days.max(initial=0)) + 1
            may = self.free.days_for(task.hours, True, 0, last)
            if not task.care:
                may |= ~self.free.open[:last]
            np.logical_and(self.fits, may[days] | (enters == leaves), out=self.fits)

    def _find_room(self, side: SideNeeds, places: Sequence[Rows], alike: Days, days: Days) -> None:
        for leg, rows, enters, leaves in zip(side.legs, places, days, days[1:], strict=False):
            self.fits[alike[~self.free.stands(leg, rows, enters[alike], leaves[alike])]] = False

    @property
    def starts(self) -> Days:
        """The start of each row."""
        starts: Days = self.days[0, 3]
        return starts

    @property
    def held(self) -> Bools:
        """By row, whether any of its sowings is held cold before the start."""
        held: Bools = np.any(self.days[:, 2] < self.days[:, 3], axis=0)
        return held

    def rows(self, start: int) -> range:
        """Those of a start, the preferred first."""
        first, end = self._borders[start - self.first : start - self.first + 2]
        return range(first - self._borders[0], end - self._borders[0])

    def firsts(self, starts: Days) -> Days:
        """By start, its first row, and the row after its last."""
        borders = np.array(self._borders) - self._borders[0]
        return np.stack([borders[starts - self.first], borders[starts - self.first + 1]])

    def way(self, row: int) -> Succession:
        return self._ways[self._borders[0] + row]
