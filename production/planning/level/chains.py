"""From which starts which pickups can be kept: all pickups of a line at once, by dynamic programming.

The same counting back as in `backward`, for plants of one size beside what a board leaves free, but with an array
for each stage and all pickups in place of one question for each.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from production.planning.allowed import later
from production.planning.backward import MOST_WAYS, NIGHT
from production.planning.level.free import Free, run_lengths
from production.planning.level.needs import LegNeeds, Needs
from production.planning.level.sides import Sides, Together
from production.planning.level.sowings import Sowings
from production.planning.load import Bools

Costs = npt.NDArray[np.int32]

NEVER = np.int32(10**9)


class Chains:
    """By pickup and start: how far the best way between departs from the usual nights.

    `pickups` are pairs of the day and the last day of collection, as indexes of the load.
    """

    def __init__(self, free: Free, needs: Needs, pickups: Sequence[tuple[int, int]]) -> None:
        self.free, self.needs, self.pickups = free, needs, pickups
        days, lasts = np.array(pickups, np.int64).T
        self.low = max(0, int(lasts.min()) - needs.longest)
        self.size = int(lasts.max()) + 1 - self.low
        self.fits: list[Bools] = []
        self._sides: dict[tuple[int, bool], Sides | None] = {}
        self.after: list[Costs] = []
        self.may_start: Bools = np.ones(self.size, bool)
        self.possible = self._stages_fit() and self._sides_fit()
        if self.possible:
            self._count_back(days, lasts)

    def _stages_fit(self) -> bool:
        for number, leg in enumerate(self.needs.legs):
            fits = self._fits(leg)
            if not number and self.needs.starts_open:
                fits &= self.free.open[self.low : self.low + self.size]
            if not fits.any():
                return False
            self.fits.append(fits)
        return True

    def _sides_fit(self) -> bool:
        """Leaves of all starts those that have sowings of all sides."""
        if self.fits:
            self.may_start &= self.fits[0].any(axis=0)
        starts = np.flatnonzero(self.may_start)
        if not starts.size:
            return False
        first, last = self.low + int(starts[0]), self.low + int(starts[-1])
        each = [
            Sowings(self.free, table, self.needs.sides[table.side : table.side + table.times], first, last)
            for table in self.needs.sown
        ]
        if each:
            self.together = Together(self.free, each)
            sown = np.zeros(self.size, bool)
            sown[self.together.starts - self.low] = True
            self.may_start &= sown
        return bool(self.may_start.any())

    def _count_back(self, days: npt.NDArray[np.int64], lasts: npt.NDArray[np.int64]) -> None:
        self.after = [self._waiting(days, lasts)]
        for number in reversed(range(len(self.needs.legs))):
            leg, after = self.needs.legs[number], self.after[0]
            going_on = np.full((len(days), self.size + leg.longest), NEVER, np.int32)
            going_on[:, : self.size] = after
            step_p, step_d = going_on.strides
            shape, strides = (len(days), leg.longest + 1, self.size), (step_p, step_d, step_d)
            costs = np.ndarray(shape, np.int32, going_on, strides=strides)[:, leg.shortest :]
            costs = costs + self.needs.away[number][:, None]
            costs[:, ~self.fits[number]] = NEVER
            self.after.insert(0, costs.min(axis=1))
        self.after[0][:, ~self.may_start] = NEVER

    def _waiting(self, days: npt.NDArray[np.int64], lasts: npt.NDArray[np.int64]) -> Costs:
        """By pickup and day of being ready: the nights until pickup, where plants may stand until the last day."""
        keeping, ready = self.needs.keeping, np.arange(self.low, self.low + self.size)
        nights = lasts[:, None] - ready
        may = (nights >= 0) & (nights <= keeping) & (ready <= days[:, None])
        if self.needs.waiting:
            stands = self._stands(self.needs.waiting)
            if not stands.all():
                may &= stands[np.clip(nights, 0, keeping), ready - self.low]
        costs: Costs = np.where(may, (days[:, None] - ready) * (NIGHT + 1), NEVER).astype(np.int32)
        return costs

    def _fits(self, leg: LegNeeds) -> Bools:
        """[nights − shortest, day of entry − low] → may it be."""
        fits = self._stands(leg)[leg.shortest :]
        skipped = 0 if leg.shortest else 1  # plants that spend no night here skip the stage and its work
        for task in leg.bounds:
            may = self.free.days_for(task.hours, task.care, self.low, self.size + max(leg.longest, task.after))
            if may.all():
                continue
            if task.at_end:
                fits[skipped:] &= later(may, leg.longest + 1, self.size)[leg.shortest + skipped :]
            else:
                fits[skipped:] &= may[task.after : task.after + self.size]
        return fits

    def _stands(self, leg: LegNeeds) -> Bools:
        """[nights, day of entry − low] → do the containers find room, over as many places as it takes."""
        days = self.size + leg.longest
        each = [self.free.containers(row, unit, self.low, days) for row, unit in leg.units.items()]
        fits: Bools = np.ones((leg.longest + 1, self.size), bool)
        if any(bool((free >= leg.containers).all()) for free in each):
            return fits
        if len(each) == 1:
            enough = run_lengths(each[0] >= leg.containers)[: self.size]
            fits[1:] = np.arange(1, leg.longest + 1)[:, None] <= enough
            return fits
        together = sum(np.minimum.accumulate(later(free, leg.longest, self.size), axis=0) for free in each)
        fits[1:] = together >= leg.containers
        return fits

    # --- what was found ---

    def starts(self, at: int, early: bool = False) -> list[int]:
        """Starts for that pickup, those that depart least from the usual nights first, or the earliest."""
        if not self.possible:
            return []
        costs = self.after[0][at]
        found = np.flatnonzero(costs < NEVER)
        ranked = np.arange(len(found)) if early else np.argsort(costs[found] // NIGHT, kind="stable")[:MOST_WAYS]
        starts: list[int] = (found[ranked] + self.low).tolist()
        return starts

    def sides(self, start: int, held: bool) -> Sides | None:
        """Sowings for that start, as long as nothing is taken of what was free; without any it is no start."""
        key = (start, held)
        if key not in self._sides:
            self._sides[key] = self.together.sides(start, held)
            if self._sides[key] is None and held == self.needs.holds[-1]:
                self.after[0][:, start - self.low] = NEVER
        return self._sides[key]

    def departure(self, at: int, start: int) -> int:
        """Nights away from the usual ones on the best way from that start to that pickup."""
        return int(self.after[0][at, start - self.low]) // NIGHT

    def borders(self, at: int, start: int) -> tuple[int, ...]:
        """Walk the cheapest way from the start, each stage ending as early as that way lets it."""
        borders, day = [start], start - self.low
        for number, leg in enumerate(self.needs.legs):
            may = self.fits[number][:, day]
            after = self.after[number + 1][at, day + leg.shortest : day + leg.longest + 1]
            costs = np.where(may[: len(after)], after + self.needs.away[number][: len(after)], NEVER)
            day += leg.shortest + int(costs.argmin())
            borders.append(self.low + day)
        return tuple(borders)
