"""How much to sow and graft: from the plants wanted back to grafts, seedlings and seeds, at a service level.

Every share (emergence, usable stems, take, kept) is uncertain, a Beta distribution, so a big order needs spare for
a lot that does badly as well as for the luck of each plant. The Beta of a product of shares is matched on mean and
variance. The chances themselves are counted in `chances`, or on a `mesh` where the numbers are large.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from production.planning import mesh
from production.planning.chain import Chain
from production.planning.chances import (
    MOST,
    Array,
    OutOfReach,
    at_least,
    chance_of_at_least,
    combine,
    distribution,
    finishing,
    needed,
)
from production.planning.least_cost import EVEN, Costs, Mix, cheapest
from production.planning.terms import Material, Rate, Sizing

__all__ = [
    "COUNTED",
    "LOOSE",
    "Cheapest",
    "Costs",
    "Filled",
    "OutOfReach",
    "Supply",
    "combine",
    "distribution",
    "filled",
    "finishing",
    "plain_given",
    "size_at_least_cost",
    "size_given",
    "size_grafted",
    "size_plain",
    "stems",
]  # fmt: skip

# Each side is sown so that it gives a stem for every planned graft with this chance; the planned grafts are then
# as few as meet the service level over the whole chain. Held constant, this makes every number grow, never shrink,
# with the plants wanted and with the level, which the cheapest mix does not. At 95 % and costs alike it spends
# under 1 % more than that from sixty plants on, and some 5 % at ten; where costs differ much it spends more.
SIDE_CHANCE = 0.9

# Up to so many plants each number is counted; above, the mesh is quicker.
COUNTED = 2000


# --- one line ----------------------------------------------------------------------------------------------


def size_plain(wanted: int, material: Material, kept: Rate, level: float) -> Sizing:
    """The seeds of a plain line: through emergence, usable seedlings and losses until ready."""
    _some(wanted)
    share = combine(material.emerged, material.usable, kept)
    count = needed if wanted <= COUNTED else mesh.needed
    chance = chance_of_at_least if wanted <= COUNTED else mesh.chance_of_at_least
    seeds = count(wanted, share, level)
    return Sizing(0, 0, seeds, chance(wanted, seeds, share), seeds * share.mean)


def size_grafted(
    wanted: int, rootstock: Material, scion: Material, take: Rate, kept: Rate, level: float
) -> Sizing:
    """Grafts and the seeds of both sides, so that `wanted` plants are ready with chance `level`.

    A graft needs a usable stem of each side, and no more are made than are planned:
    ready = the share taken and kept of min(grafts, usable rootstocks, usable scions).
    """
    _some(wanted)
    return _size_pairs(wanted, stems(rootstock), stems(scion), combine(take, kept), level)


@lru_cache(maxsize=4096)
def _size_pairs(wanted: int, rootstock: Rate, scion: Rate, after: Rate, level: float) -> Sizing:
    sides: EvenSides = (EvenSides if wanted <= COUNTED else LargeEvenSides)(wanted, rootstock, scion, after)
    low, high = sides.bracket(level)
    while low < high:
        middle = (low + high) // 2
        if sides.chance(middle) >= level:
            high = middle
        else:
            low = middle + 1
    return sides.sizing(high)


def _some(wanted: int) -> None:
    if wanted <= 0:
        raise ValueError(f"a line wants at least one plant, not {wanted}")


def stems(material: Material) -> Rate:
    """The share of the seeds of a variety that become usable stems."""
    return combine(material.emerged, material.usable)


class EvenSides:
    """Seeds of both sides for so many grafts, each side giving all stems with one and the same chance."""

    def __init__(self, wanted: int, rootstock: Rate, scion: Rate, after: Rate) -> None:
        self.wanted, self.rootstock, self.scion, self.after = wanted, rootstock, scion, after

    def seeds(self, grafts: int) -> tuple[int, int]:
        """Seeds of rootstock and of scion for so many planned grafts."""
        return needed(grafts, self.rootstock, SIDE_CHANCE), needed(grafts, self.scion, SIDE_CHANCE)

    def pairs(self, grafts: int) -> Array:
        """P(at least m grafts can be made) for m = 0 … grafts."""
        rootstocks, scions = self.seeds(grafts)
        return at_least(rootstocks, self.rootstock)[: grafts + 1] * at_least(scions, self.scion)[: grafts + 1]

    def chance(self, grafts: int) -> float:
        """P(the plants wanted are ready): the graft that makes them up must be one of those that can be made."""
        if grafts < self.wanted:
            return 0.0
        return float(finishing(self.wanted, self.after, grafts) @ self.pairs(grafts)[self.wanted :])

    def enough(self, level: float) -> int:
        """Grafts that would be enough if every one of them could be made."""
        return needed(self.wanted, self.after, level)

    def bracket(self, level: float) -> tuple[int, int]:
        """Too few or just enough, and enough, grafts."""
        low = high = self.enough(level)
        while self.chance(high) < level:
            low, high = high + 1, high + max(1, high // 16)
            if high > max(MOST, 50 * self.wanted):
                raise OutOfReach(f"{self.wanted} plants cannot be had with a chance of {level:g}")
        return low, high

    def sizing(self, grafts: int) -> Sizing:
        expected = self.after.mean * float(self.pairs(grafts)[1:].sum())
        return Sizing(grafts, *self.seeds(grafts), self.chance(grafts), expected)


class LargeEvenSides(EvenSides):
    """The same where the numbers are too large to count."""

    def __init__(self, wanted: int, rootstock: Rate, scion: Rate, after: Rate) -> None:
        super().__init__(wanted, rootstock, scion, after)
        self.chain = Chain(wanted, rootstock, scion, after)

    def seeds(self, grafts: int) -> tuple[int, int]:
        return mesh.needed(grafts, self.rootstock, SIDE_CHANCE), mesh.needed(grafts, self.scion, SIDE_CHANCE)

    def chance(self, grafts: int) -> float:
        return self.chain.chance(grafts, *self.seeds(grafts))

    def enough(self, level: float) -> int:
        return mesh.needed(self.wanted, self.after, level)

    def sizing(self, grafts: int) -> Sizing:
        seeds = self.seeds(grafts)
        return Sizing(grafts, *seeds, self.chain.chance(grafts, *seeds), self.chain.expected(grafts, *seeds))


# --- least cost, whole trays, packs ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Supply:
    """How seed of one side is sown and bought: whole trays of `cells` (1: any number), packs of `pack` seeds."""

    cells: int = 1
    pack: int = 1

    def __post_init__(self) -> None:
        if self.cells < 1 or self.pack < 1:
            raise ValueError(f"a tray has one cell at least and a pack one seed, not {self.cells} and {self.pack}")


LOOSE = Supply()


@dataclass(frozen=True, slots=True)
class Filled:
    """Seeds sown, the trays they fill, the packs to open, and the seeds of them that are left."""

    seeds: int
    trays: int
    packs: int
    left: int


def filled(seeds: int, supply: Supply) -> Filled:
    """So many seeds rounded up to whole trays, and the packs that hold them."""
    trays = -(-seeds // supply.cells)
    packs = -(-trays * supply.cells // supply.pack)
    return Filled(trays * supply.cells, trays, packs, packs * supply.pack - trays * supply.cells)


@dataclass(frozen=True, slots=True)
class Cheapest:
    """The cheapest way to the plants wanted. `cost` is of seeds sown and grafts: seed left in a pack keeps."""

    sizing: Sizing
    rootstock: Filled
    scion: Filled
    cost: float


def size_at_least_cost(
    wanted: int,
    rootstock: Material,
    scion: Material,
    take: Rate,
    kept: Rate,
    level: float,
    costs: Costs = EVEN,
    rootstock_supply: Supply = LOOSE,
    scion_supply: Supply = LOOSE,
) -> Cheapest:
    """Grafts and seeds of both sides, chosen together, that give `wanted` plants at `level` for least cost.

    Unlike those of `size_grafted` a single number may shrink by a little where one plant more is wanted: another
    has grown in its place. ValueError for no plants or a cost of nothing, OutOfReach where no amount is enough.
    """
    _some(wanted)
    chain = Chain(wanted, stems(rootstock), stems(scion), combine(take, kept))
    mix = cheapest(chain, level, costs, (rootstock_supply.cells, scion_supply.cells))
    return Cheapest(
        sizing=_sized(chain, mix),
        rootstock=filled(mix.rootstock_seeds, rootstock_supply),
        scion=filled(mix.scion_seeds, scion_supply),
        cost=costs.of(mix.grafts, mix.rootstock_seeds, mix.scion_seeds),
    )


# --- read the other way ------------------------------------------------------------------------------------


def size_given(
    wanted: int,
    rootstock: Material,
    scion: Material,
    take: Rate,
    kept: Rate,
    rootstock_seeds: int,
    scion_seeds: int,
    grafts: int | None = None,
) -> Sizing:
    """The chance that these seeds, and no more than so many grafts, are enough; None: every pair is grafted."""
    _some(wanted)
    if min(rootstock_seeds, scion_seeds) < 0 or (grafts is not None and grafts < 0):
        raise ValueError("seeds and grafts are counted from nought on")
    chain = Chain(wanted, stems(rootstock), stems(scion), combine(take, kept))
    pairs = min(rootstock_seeds, scion_seeds)
    most = pairs if grafts is None else min(grafts, pairs)
    return _sized(chain, Mix(most, rootstock_seeds, scion_seeds))


def plain_given(wanted: int, material: Material, kept: Rate, seeds: int) -> Sizing:
    """The chance that these seeds of a plain line are enough."""
    _some(wanted)
    share = combine(material.emerged, material.usable, kept)
    return Sizing(0, 0, seeds, mesh.chance_of_at_least(wanted, seeds, share), seeds * share.mean)


def _sized(chain: Chain, mix: Mix) -> Sizing:
    numbers = (mix.grafts, mix.rootstock_seeds, mix.scion_seeds)
    return Sizing(*numbers, chain.chance(*numbers), chain.expected(*numbers) if mix.grafts else 0.0)
