"""The chances of `chances` for numbers too large to count one by one, on a mesh of a few hundred cells.

The chance of a number is a smooth function of it, so a sum over many neighbouring numbers is an integral, taken
cell by cell with three Gauss points. Cells are a tenth of the spread wide, and single numbers near the ends, where
a Beta may rise steeply. Up to a spread of fifty plants every number has its own cell, and the sums are
those of `chances`; elsewhere they agree to about 1e-6 (tests/planning/test_mesh.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import sqrt

import numpy as np
import numpy.typing as npt

from production.planning.chances import MOST, Array, OutOfReach, certain
from production.planning.terms import Rate

# Beyond so many spreads from the middle nothing is left that would change a sixth decimal.
REACH = 12.0
# Up to this spread every number has its own cell.
ONE_BY_ONE = 50.0
# A long tail goes on in wider cells, as far as this.
FARTHER = 40.0
# A share surer than this is as good as known: in a million plants it moves the spread by less than a thousandth.
SURE = 1e9
# Stirling's series with three terms is exact to 1e-12 from here on.
STIRLING = 16

ENDS = np.unique(np.rint(1.03 ** np.arange(1, 700)).astype(np.int64))
POINTS = np.array([-sqrt(0.15), 0.0, sqrt(0.15)])
WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0
ALONE = np.array([0.0, 1.0, 0.0])


def log_gamma(x: Array) -> Array:
    """ln Γ(x), x > 0: Stirling's series, after lifting small x by Γ(x) = Γ(x + 16) / (x (x+1) … (x+15))."""
    small = x < STIRLING
    lifted = np.where(small, x + STIRLING, x)
    square = 1.0 / (lifted * lifted)
    tail = (1 / 12 - square * (1 / 360 - square * (1 / 1260 - square / 1680))) / lifted
    logs = (lifted - 0.5) * np.log(lifted) - lifted + 0.5 * np.log(2 * np.pi) + tail
    if small.any():
        low = x[small]
        logs[small] -= np.log(np.prod([low + step for step in range(STIRLING)], axis=0))
    return np.asarray(logs)


def _log_beta(a: Array | float, b: Array | float) -> Array:
    first, second = np.atleast_1d(np.asarray(a, dtype=float)), np.atleast_1d(np.asarray(b, dtype=float))
    return log_gamma(first) + log_gamma(second) - log_gamma(first + second)


def spread(trials: float, rate: Rate) -> float:
    """Standard deviation of the number that come through."""
    together = 1.0 if rate.weight > SURE else (rate.weight + trials) / (rate.weight + 1)
    return sqrt(trials * rate.mean * (1 - rate.mean) * together)


# --- cells -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Cells:
    """Whole numbers in runs: run i holds the numbers between edges[i] and edges[i+1], which end in one half."""

    edges: Array
    nodes: Array  # shape (cells, 3)
    weights: Array  # shape (cells, 3)

    @classmethod
    def over(cls, first: int, last: int, marks: npt.NDArray[np.int64]) -> Cells:
        """The numbers first … last; a run begins at each mark inside."""
        inside = marks[(marks > first) & (marks <= last)]
        edges = np.concatenate(([first], np.unique(inside), [last + 1])) - 0.5
        size = np.diff(edges)[:, None]
        middle = edges[:-1, None] + size / 2
        wide = size > 1
        return cls(edges, middle + np.where(wide, size * POINTS, 0.0), np.where(wide, size * WEIGHTS, ALONE))

    def above(self, chances: Array) -> Array:
        """The sum over all numbers above each edge, from the chances at the nodes."""
        sums = (chances * self.weights).sum(axis=1)
        return np.concatenate((np.cumsum(sums[::-1])[::-1], [0.0]))


def marks(middle: float, width: float) -> npt.NDArray[np.int64]:
    """Where runs begin around `middle`: at every tenth of the spread, as far as anything is left."""
    step = int(width / 10) if width > ONE_BY_ONE else 1
    reach = int(REACH * width) + 2
    return np.arange(int(middle) - reach, int(middle) + reach + 1, step, dtype=np.int64)


# --- one share ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Tail:
    """P(X ≥ m) as a smooth function of m, exact where every number has its own cell."""

    edges: Array
    above: Array
    slopes: Array

    def at(self, numbers: Array) -> Array:
        """P(X ≥ m) at each of these numbers, by cubics through the edges."""
        x = np.clip(numbers - 0.5, self.edges[0], self.edges[-1])
        cell = np.clip(np.searchsorted(self.edges, x, side="right") - 1, 0, self.edges.size - 2)
        size = self.edges[cell + 1] - self.edges[cell]
        t = (x - self.edges[cell]) / size
        u = 1.0 - t
        low, high = self.above[cell], self.above[cell + 1]
        bend = u * u * t * size * self.slopes[cell] - t * t * u * size * self.slopes[cell + 1]
        return np.clip(low * u * u * (1 + 2 * t) + high * t * t * (1 + 2 * u) + bend, 0.0, 1.0)


@lru_cache(maxsize=2048)
def tail(trials: int, rate: Rate) -> Tail:
    """P(at least m of `trials` come through), as a function of m."""
    sure = certain(rate)
    if sure is not None or trials == 0:
        step = trials * (sure or 0) + 0.5
        return Tail(np.array([step - 1, step, step + 1]), np.array([1.0, 0.0, 0.0]), np.zeros(3))
    middle, width = trials * rate.mean, spread(trials, rate)
    first, last = max(0, int(middle - FARTHER * width)), min(trials, int(middle + FARTHER * width) + 1)
    cells = Cells.over(first, last, np.concatenate((marks(middle, width), ENDS, trials + 1 - ENDS)))
    above = cells.above(_of(trials, rate, cells.nodes))
    whole = above[0]
    slopes = -_of(trials, rate, np.clip(cells.edges, 0.0, trials)) / whole
    return Tail(cells.edges, above / whole, slopes)


def _of(trials: int, rate: Rate, numbers: Array) -> Array:
    """P(X = k), continued between the whole numbers."""
    choices = -_log_beta(numbers + 1, trials - numbers + 1) - np.log(trials + 1)
    if rate.weight > SURE:
        return np.asarray(
            np.exp(choices + numbers * np.log(rate.mean) + (trials - numbers) * np.log1p(-rate.mean))
        )
    good, bad = rate.mean * rate.weight, (1 - rate.mean) * rate.weight
    return np.asarray(np.exp(choices + _log_beta(good + numbers, bad + trials - numbers) - _log_beta(good, bad)))


def chance_of_at_least(wanted: int, trials: int, rate: Rate) -> float:
    """P(X ≥ wanted) of `trials`."""
    if wanted <= 0:
        return 1.0
    return float(tail(trials, rate).at(np.array([float(wanted)]))[0]) if trials >= wanted else 0.0


# --- the graft that makes up the number ---------------------------------------------------------------------


def finishing(wanted: int, rate: Rate, numbers: Array) -> Array:
    """P(graft number m is the one that makes up `wanted`), continued between the whole numbers m ≥ wanted."""
    choices = -_log_beta(float(wanted), numbers - wanted + 1) - np.log(numbers)
    if rate.weight > SURE:
        return np.asarray(np.exp(choices + wanted * np.log(rate.mean) + (numbers - wanted) * np.log1p(-rate.mean)))
    good, bad = rate.mean * rate.weight, (1 - rate.mean) * rate.weight
    return np.asarray(np.exp(choices + _log_beta(good + wanted, bad + numbers - wanted) - _log_beta(good, bad)))


def finishing_cells(
    wanted: int, rate: Rate, most: int, others: list[npt.NDArray[np.int64]] | None = None
) -> tuple[Cells, Array]:
    """Runs of the grafts wanted … most and, at their nodes, P(that graft makes up `wanted`) times the weight.

    `others` are marks where what the sum is multiplied with changes quickly.
    """
    if certain(rate) == 1:
        cells = Cells.over(wanted, wanted, np.array([], dtype=np.int64))
        return cells, np.array([[0.0, 1.0, 0.0]])
    middle = wanted / rate.mean
    width = spread(middle, rate) / rate.mean
    first = max(wanted, int(middle - FARTHER * width))
    cells = Cells.over(first, most, np.concatenate([marks(middle, width), wanted + ENDS, *(others or [])]))
    return cells, finishing(wanted, rate, np.maximum(cells.nodes, wanted)) * cells.weights


@lru_cache(maxsize=4096)
def needed(wanted: int, rate: Rate, level: float) -> int:
    """The smallest number of trials of which at least `wanted` come through with chance `level`."""
    sure = certain(rate)
    if sure is not None:
        if sure:
            return wanted
        raise OutOfReach("nothing comes through at a share of 0")
    most = int(1.25 * wanted / rate.mean) + 20
    while most < max(MOST, 50 * wanted):
        cells, chances = finishing_cells(wanted, rate, most)
        reached = np.cumsum(chances.sum(axis=1))
        if reached[-1] >= level:
            return _first_with(level, wanted, rate, cells.edges, np.concatenate(([0.0], reached)))
        most *= 2
    raise OutOfReach(f"{wanted} at a share of {rate.mean:.3g} cannot be had with a chance of {level:g}")


def _first_with(level: float, wanted: int, rate: Rate, edges: Array, reached: Array) -> int:
    """The first number whose chance to have made up `wanted` reaches the level, inside its cell by a cubic."""
    cell = int(np.searchsorted(reached, level)) - 1
    around = edges[cell : cell + 2]
    slopes = -finishing(wanted, rate, np.maximum(around, wanted))
    left = Tail(around, 1.0 - reached[cell : cell + 2], slopes)
    numbers = np.arange(around[0] + 0.5, around[1])
    return int(numbers[np.argmax(left.at(numbers + 1) <= 1.0 - level)])
