"""A staircase of grafts and seeds that only goes up, near the cheapest mix at every step.

The cheapest mix for one plant more may have a seed less of one side and a graft more. A planner wants numbers that
never shrink when more is asked, so it climbs one fixed staircase until the level is reached: each landing has one
graft more than the last, and of each side the seeds that give all its stems with a fixed chance; between landings
the graft comes first, then the scion's seeds, then the rootstock's.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np

from production.planning import mesh
from production.planning.chain import Chain
from production.planning.chances import MOST, Array, OutOfReach, at_least, finishing, needed
from production.planning.least_cost import USUAL, Costs, Mix, cheapest

# Up to so many plants each number is counted; above, the mesh is quicker.
COUNTED = 2000

# With this chance that a side gives all stems the staircase runs within 1 % of the cheapest mix on average, at
# usual costs, for levels from 0.8 to 0.99 and for known as for new seed (tests/bench/sizing.py).
USUAL_CHANCE = 0.9

# Where costs differ, the chances are those of the cheapest mix for an order like this.
TYPICAL_PLANTS, TYPICAL_LEVEL = 100, 0.95


@lru_cache(maxsize=4096)
def first_enough(chain: Chain, level: float, costs: Costs = USUAL) -> tuple[Mix, float]:
    """The first mix on the staircase that reaches the level, and its chance; OutOfReach if none does."""
    chances = (USUAL_CHANCE, USUAL_CHANCE) if costs == USUAL else _chances_for(chain, costs)
    stairs = (Staircase if chain.wanted <= COUNTED else LargeStaircase)(chain, chances)
    return stairs.first(level)


def _chances_for(chain: Chain, costs: Costs) -> tuple[float, float]:
    typical = Chain(TYPICAL_PLANTS, chain.rootstock, chain.scion, chain.after)
    return _chances_of_cheapest(typical, costs)


@lru_cache(maxsize=1024)
def _chances_of_cheapest(typical: Chain, costs: Costs) -> tuple[float, float]:
    mix = cheapest(typical, TYPICAL_LEVEL, costs)
    sides = ((mix.rootstock_seeds, typical.rootstock), (mix.scion_seeds, typical.scion))
    rootstock, scion = (mesh.chance_of_at_least(mix.grafts, seeds, rate) for seeds, rate in sides)
    return min(max(rootstock, 0.5), 0.999), min(max(scion, 0.5), 0.999)


class Staircase:
    """The staircase for one chain, every number counted."""

    def __init__(self, chain: Chain, chances: tuple[float, float]) -> None:
        self.chain, self.chances = chain, chances

    def landing(self, grafts: int) -> Mix:
        rootstock, scion = self.chances
        return Mix(
            grafts,
            self.needed(grafts, self.chain.rootstock, rootstock),
            self.needed(grafts, self.chain.scion, scion),
        )

    needed = staticmethod(needed)

    def chance(self, mix: Mix) -> float:
        """P(the plants wanted are ready): the graft that makes them up must be one of those that can be made."""
        most = min(mix.grafts, mix.rootstock_seeds, mix.scion_seeds)
        if most < self.chain.wanted:
            return 0.0
        return float(finishing(self.chain.wanted, self.chain.after, most) @ self._pairs(mix, most))

    def _pairs(self, mix: Mix, most: int) -> Array:
        """P(at least m grafts can be made), m from the plants wanted to the most."""
        reach = slice(self.chain.wanted, most + 1)
        rootstocks = at_least(mix.rootstock_seeds, self.chain.rootstock)[reach]
        return np.asarray(rootstocks * at_least(mix.scion_seeds, self.chain.scion)[reach])

    def first(self, level: float) -> tuple[Mix, float]:
        low, high = self._bracket(level)
        while low < high:
            half = (low + high) // 2
            low, high = (low, half) if self.chance(self.landing(half)) >= level else (half + 1, high)
        steps = ((step, self.chance(step)) for step in self._steps_to(high))
        return next((step, chance) for step, chance in steps if chance >= level)

    def _bracket(self, level: float) -> tuple[int, int]:
        """Grafts of a landing that is too low or just high enough, and of one that is high enough."""
        low = high = self.needed(self.chain.wanted, self.chain.after, level)
        while self.chance(self.landing(high)) < level:
            low, high = high + 1, high + max(1, int(mesh.spread(high, self.chain.after) / 2))
            if high > max(MOST, 50 * self.chain.wanted):
                raise OutOfReach(f"{self.chain.wanted} plants cannot be had with a chance of {level:g}")
        return low, high

    def _steps_to(self, grafts: int) -> Iterator[Mix]:
        """From the landing before, if there is one, to the landing with so many grafts."""
        last = self.landing(grafts)
        below = self.landing(grafts - 1) if grafts > self.chain.wanted else last
        for scion_seeds in range(below.scion_seeds, last.scion_seeds):
            yield _climbed(grafts, below.rootstock_seeds, scion_seeds)
        for rootstock_seeds in range(below.rootstock_seeds, last.rootstock_seeds):
            yield _climbed(grafts, rootstock_seeds, last.scion_seeds)
        yield last


def _climbed(grafts: int, rootstock_seeds: int, scion_seeds: int) -> Mix:
    """No more grafts than there could be stems."""
    return Mix(min(grafts, rootstock_seeds, scion_seeds), rootstock_seeds, scion_seeds)


class LargeStaircase(Staircase):
    """The same where the numbers are too large to count."""

    needed = staticmethod(mesh.needed)

    def chance(self, mix: Mix) -> float:
        return self.chain.chance(mix.grafts, mix.rootstock_seeds, mix.scion_seeds)
