"""What a board leaves free on some days: room by place and night, hours by set of skills and day."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from production.planning.ledger import Spots
from production.planning.level.needs import Days, Hours, LegNeeds, Work
from production.planning.load import EASE, Bools, Floats, Load
from production.planning.settle import Spread, divided


class Free:
    """The first so many days of a load; of days that it does not reach nothing is to be had.

    It is a copy: what is taken here is taken from no board.
    """

    def __init__(self, load: Load, days: int) -> None:
        there = slice(0, min(days, load.size))
        self.room: Floats = np.zeros((len(load.capacity), days))
        self.hours: Floats = np.full((len(load.hours), days), -1.0)
        self.open: Bools = np.zeros(days, bool)
        np.subtract(load.capacity[:, there], load.used[:, there], out=self.room[:, there])
        np.subtract(load.hours[:, there], load.asked[:, there], out=self.hours[:, there])
        self.open[there] = load.open[there]

    def containers(self, row: int, unit: float, first: int, days: int) -> Floats:
        """Whole containers of that load which a place can still take, by night."""
        left = np.maximum(self.room[row, first : first + days], 0.0)
        free: Floats = np.floor(left / max(unit, EASE) + EASE)
        return free

    def has_room(self, row: int, load: float) -> Bools:
        """By night, whether a place can take so much more."""
        may: Bools = self.room[row] >= load - EASE
        return may

    def days_for(self, hours: Hours, care: bool, first: int, days: int) -> Bools:
        """On which days such work may fall and finds the hands it needs."""
        there = slice(first, first + days)
        may: Bools = np.ones(days, bool) if care else self.open[there].copy()
        for index, wanted in hours:
            may &= self.hours[index, there] >= wanted - EASE
        return may

    def finds_hands(self, works: Iterable[Work]) -> bool:
        """Whether all this work finds its hands together."""
        asked: dict[tuple[int, int], float] = {}
        for index, day, hours in works:
            asked[index, day] = asked.get((index, day), 0.0) + hours
        return all(self.hours[index, day] >= hours - EASE for (index, day), hours in asked.items())

    def spread(self, leg: LegNeeds, rows: Sequence[int], first: int, leaves: int) -> Spread | None:
        """Containers by place for a stage: all in the first place that takes them whole, or divided."""
        free = dict[int, float]()
        there = slice(first, leaves)
        for row in rows:
            free[row] = math.floor(max(self.room[row, there].min(), 0.0) / max(leg.units[row], EASE) + EASE)
            if free[row] >= leg.containers:
                return ((row, leg.containers),)
        return tuple(divided(leg.containers, free)) if sum(free.values()) >= leg.containers else None

    def stands(self, leg: LegNeeds, rows: Sequence[int], first: Days, leaves: Days) -> Bools:
        """For many stands of a stage in these places, each from its first night until it leaves: is there room?"""
        begin, end = int(first.min()), int(leaves.max())
        each = [self.containers(row, leg.units[row], begin, end - begin) for row in rows]
        if any(bool((free >= leg.containers).all()) for free in each):
            return np.ones(len(first), bool)
        fits: Bools = first >= leaves
        first, leaves = np.minimum(first - begin, end - begin - 1), leaves - begin
        for free in each:
            fits |= run_lengths(free >= leg.containers)[first] >= leaves - first
        unsure = np.flatnonzero(~fits)
        if len(each) > 1 and unsure.size:
            least = (least_within(free, first[unsure], leaves[unsure]) for free in each)
            fits[unsure] = sum(least) >= leg.containers
        return fits

    def take(self, spots: Spots, sign: int = 1) -> None:
        for row, first, leaves, load in spots.stays:
            self.room[row, first:leaves] -= sign * load
        for index, day, hours in spots.work:
            self.hours[index, day] -= sign * hours

    def take_room(self, row: int, first: int, leaves: int, load: float) -> None:
        self.room[row, first:leaves] -= load

    def give_back(self, row: int, first: int, leaves: int, load: float) -> None:
        self.room[row, first:leaves] += load


def least_within(values: Floats, first: Days, leaves: Days) -> Floats:
    """The least value of each of many runs of at least one night."""
    tables, nights = [values], 1
    longest = int((leaves - first).max())
    while 2 * nights <= longest:
        last = tables[-1]
        tables.append(np.minimum(last, np.append(last[nights:], np.full(nights, np.inf))))
        nights *= 2
    power = np.log2(leaves - first).astype(np.int64)
    every = np.array(tables)
    least: Floats = np.minimum(every[power, first], every[power, leaves - (1 << power)])
    return least


def run_lengths(may: Bools) -> Days:
    """By night, how many from it on there are until one that may not be."""
    nights = np.arange(len(may))
    borders = np.where(may, len(may), nights)
    lengths: Days = np.minimum.accumulate(borders[::-1])[::-1] - nights
    return lengths
