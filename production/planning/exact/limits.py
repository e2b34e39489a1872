"""What a load leaves free, as constraints: in every place by night, for every set of skills by day."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from itertools import pairwise

import numpy as np
from ortools.sat.python import cp_model

from production.planning.load import EASE, Floats, Hours, Load
from production.planning.terms import PartOfDay

SCALE = 1_000_000  # CP-SAT counts in whole numbers: millionths of a position, of a square metre or of an hour

Interval = cp_model.IntervalVar
Literal = cp_model.IntVar
Amount = cp_model.LinearExpr | int


def day_in(model: cp_model.CpModel, days: Iterable[int]) -> cp_model.IntVar:
    """A variable that is one of these days."""
    return model.new_int_var_from_domain(cp_model.Domain.from_values(sorted(set(days))), "")


class Limits:
    """Stands and work are reported here while a model is built; `close` makes them respect the load.

    Where the load is over its limit already, nothing more may come. Nothing that is reported begins before the day
    `since` or lasts beyond the day `until`: the limits outside need not be stated.
    """

    def __init__(self, model: cp_model.CpModel, load: Load, until: int, since: int = 0) -> None:
        self.model, self.load, self.since, self.until = model, load, since, until
        self._stands: dict[int, list[tuple[Interval, Amount]]] = defaultdict(list)
        self._works: dict[int, list[tuple[Interval, Amount]]] = defaultdict(list)

    def stand(self, row: int, nights: Interval, containers: Amount, unit: float) -> None:
        """So many containers, each taking `unit` of the place, for the nights of the interval."""
        self._stands[row].append((nights, containers * round(unit * SCALE)))

    def work(self, day: Amount, hours: Hours, part: PartOfDay, present: Literal) -> None:
        """Hours by skill on a day, or in a part of it, where the literal holds."""
        asked: dict[int, float] = defaultdict(float)
        for skill, amount in hours:
            for index in self.load.sets_of[part][skill]:
                asked[index] += amount
        if asked:
            once = self.model.new_optional_fixed_size_interval_var(day, 1, present, "")
            for index, amount in asked.items():
                self._works[index].append((once, round(amount * SCALE)))

    def take(self, resource: tuple[str, int], days: Interval, amount: int) -> None:
        """Millionths of a place or of the hours of a set of skills, by its row, on the days of the interval."""
        kind, row = resource
        (self._stands if kind == "place" else self._works)[row].append((days, amount))

    def close(self) -> None:
        for row, stands in self._stands.items():
            self._limit(self.load.capacity[row] - self.load.used[row], stands)
        for index, works in self._works.items():
            self._limit(self.load.hours[index] - self.load.asked[index], works)

    def _limit(self, free: Floats, wanted: list[tuple[Interval, Amount]]) -> None:
        there = free[self.since : self.until]
        left = np.floor((np.maximum(there, 0.0) + EASE) * SCALE).astype(np.int64)  # as `scaled`, of many
        most = int(left.max())
        taken = list(_taken(self.model, most - left, self.since))
        intervals, amounts = zip(*taken, *wanted, strict=True)
        self.model.add_cumulative(intervals, amounts, most)


def scaled(free: float) -> int:
    """What is free, in millionths; nothing where it is less."""
    return math.floor((max(free, 0.0) + EASE) * SCALE)


def _taken(model: cp_model.CpModel, amounts: np.ndarray, since: int) -> Iterator[tuple[Interval, int]]:
    """What is not to be had, as one interval for each run of equal amounts."""
    borders = [0, *(np.flatnonzero(np.diff(amounts)) + 1).tolist(), len(amounts)]
    for (first, leaves), amount in zip(pairwise(borders), amounts[borders[:-1]].tolist(), strict=True):
        if amount:
            yield model.new_fixed_size_interval_var(since + first, leaves - first, ""), amount
