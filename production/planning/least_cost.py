"""The cheapest seeds of both sides and grafts that together give the plants wanted at a service level.

A graft more and a seed more both make success likelier, at prices of their own; the cheapest mix buys of each
until a coin buys the same chance everywhere. It is searched on a grid of seed numbers that closes in on the best
point, with the fewest grafts for each of them, so that no slope has to be trusted.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from production.planning import mesh
from production.planning.chain import Chain
from production.planning.chances import MOST, Array, OutOfReach
from production.planning.terms import Rate

# The grid reaches so many steps to either side of its middle, and its steps become so much smaller in each round.
ARM = 4
CLOSER = 3
# The last steps are this share of the first: the cost near its lowest point is flat.
LAST = 1 / 16
ROUNDS = 24
# The chance with which each side gives all stems wanted where the search begins.
BEGIN = 0.9


@dataclass(frozen=True, slots=True)
class Costs:
    """What one more seed of either side and one more graft cost, room and hours with them, in any one coin.

    A graft is twice a seed until the grower says otherwise: in a published split grafting is a quarter of a
    plant's cost and seed a third, a sixth for each side (Pardo-Alonso et al. 2019), and a graft also takes a pot
    and weeks of bench. The sides are alike, since splits lie on both sides of that: there four fifths of the seed
    is the scion's, elsewhere the rootstock's alone is a third of all (Barrett, Zhao, Hodges 2012).
    """

    rootstock_seed: float = 1.0
    scion_seed: float = 1.0
    graft: float = 2.0

    def __post_init__(self) -> None:
        for name, cost in zip(self.__slots__, (self.rootstock_seed, self.scion_seed, self.graft), strict=True):
            if not 0 < cost < float("inf"):
                raise ValueError(f"{name}: a cost is above zero, not {cost}; give what one more of it costs")

    def of(self, grafts: int, rootstock_seeds: int, scion_seeds: int) -> float:
        return grafts * self.graft + rootstock_seeds * self.rootstock_seed + scion_seeds * self.scion_seed


USUAL = Costs()


@dataclass(frozen=True, slots=True)
class Mix:
    """Grafts and seeds of either side."""

    grafts: int
    rootstock_seeds: int
    scion_seeds: int


@lru_cache(maxsize=4096)
def cheapest(chain: Chain, level: float, costs: Costs, units: tuple[int, int] = (1, 1)) -> Mix:
    """The cheapest mix of grafts and seeds that reaches `level`; seeds in multiples of `units` (rootstock, scion).

    Raises OutOfReach if no mix does.
    """
    begin = _begin(chain, level)
    search = _Search(chain, level, costs, units)
    middle = [_up(begin.rootstock_seeds, units[0]), _up(begin.scion_seeds, units[1])]
    rates = (chain.rootstock, chain.scion)
    steps = [_first_step(rate, begin.grafts, unit) for rate, unit in zip(rates, units, strict=True)]
    last = [max(unit, int(step * LAST)) for step, unit in zip(steps, units, strict=True)]
    most = begin.grafts
    for _ in range(ROUNDS):
        most += max(8, most // 16)
        best, at, most = search.best_of(middle, steps, most)
        inside = all(0 < place < 2 * ARM or middle[side] == best[side] for side, place in enumerate(at))
        middle = best
        if inside and all(step <= enough for step, enough in zip(steps, last, strict=True)):
            break
        if inside:
            steps = [_up(max(step // CLOSER, 1), unit) for step, unit in zip(steps, units, strict=True)]
    return search.exact(middle)


def _begin(chain: Chain, level: float) -> Mix:
    """A mix that reaches the level, each side giving all stems for it with the same chance."""
    grafts = mesh.needed(chain.wanted, chain.after, level)
    while True:
        seeds = [mesh.needed(grafts, rate, BEGIN) for rate in (chain.rootstock, chain.scion)]
        if chain.chance(grafts, *seeds) >= level:
            return Mix(grafts, *seeds)
        grafts += max(1, int(mesh.spread(grafts, chain.after) / 4))
        if grafts > max(MOST, 50 * chain.wanted):
            raise OutOfReach(f"{chain.wanted} plants cannot be had with a chance of {level:g}")


def _up(number: int, unit: int) -> int:
    return -(-number // unit) * unit


def _first_step(rate: Rate, stems: int, unit: int) -> int:
    wide = mesh.needed(stems, rate, 0.97) - mesh.needed(stems, rate, 0.6)
    return _up(max(wide // (2 * ARM), 1), unit)


@dataclass(frozen=True, slots=True)
class _Search:
    chain: Chain
    level: float
    costs: Costs
    units: tuple[int, int]

    def best_of(self, middle: list[int], steps: list[int], most: int) -> tuple[list[int], tuple[int, int], int]:
        """The cheapest seeds on a grid around `middle`, where on the grid they stand, and their grafts."""
        rootstock_seeds, scion_seeds = (self._along(m, step) for m, step in zip(middle, steps, strict=True))
        chances, edges = self.chain.chances(most, rootstock_seeds, scion_seeds)
        grafts = _reached(chances, edges, self.level)
        spent = self.costs.graft * grafts
        spent = spent + self.costs.rootstock_seed * np.array(rootstock_seeds)[:, None]
        spent = spent + self.costs.scion_seed * np.array(scion_seeds)[None, :]
        i, j = np.unravel_index(int(np.argmin(spent)), spent.shape)
        if not np.isfinite(spent[i, j]):
            raise OutOfReach(f"{self.chain.wanted} plants cannot be had with a chance of {self.level:g}")
        return [rootstock_seeds[i], scion_seeds[j]], (int(i), int(j)), int(grafts[i, j]) + 1

    def _along(self, middle: int, step: int) -> list[int]:
        return [max(middle + step * arm, 1) for arm in range(-ARM, ARM + 1)]

    def exact(self, seeds: list[int]) -> Mix:
        """These seeds, and the fewest grafts that are enough with them."""
        rootstock_seeds, scion_seeds = seeds
        grafts = self.chain.grafts(self.level, rootstock_seeds, scion_seeds)
        while grafts is None:
            rootstock_seeds, scion_seeds = rootstock_seeds + self.units[0], scion_seeds + self.units[1]
            grafts = self.chain.grafts(self.level, rootstock_seeds, scion_seeds)
        return Mix(grafts, rootstock_seeds, scion_seeds)


def _reached(chances: Array, edges: Array, level: float) -> Array:
    """Grafts at which the chance reaches the level, inside a wide cell by a straight line; infinite for never."""
    first = (chances < level).sum(axis=2)
    never = first == chances.shape[2]
    cell = np.minimum(first, chances.shape[2] - 1)
    at = np.take_along_axis(chances, cell[..., None], axis=2)[..., 0]
    before = np.take_along_axis(chances, np.maximum(cell - 1, 0)[..., None], axis=2)[..., 0] * (cell > 0)
    size = np.diff(edges)[cell]
    share = np.clip((level - before) / np.maximum(at - before, 1e-300), 0.0, 1.0)
    grafts = edges[cell] + np.where(size > 1, size * share, 1.0) - 0.5
    return np.where(never, np.inf, grafts)
