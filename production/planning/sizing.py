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
from production.planning.chances import OutOfReach, chance_of_at_least, combine, distribution, finishing, needed
from production.planning.least_cost import USUAL, Costs, Mix, cheapest
from production.planning.staircase import COUNTED, first_enough
from production.planning.supply import LOOSE, Filled, Supply, filled
from production.planning.terms import Material, Rate, Sizing

__all__ = [
    "Cheapest", "OutOfReach", "combine", "distribution", "finishing", "plain_given", "size_at_least_cost",
    "size_given", "size_grafted", "size_plain", "stems",
]  # fmt: skip


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
    wanted: int,
    rootstock: Material,
    scion: Material,
    take: Rate,
    kept: Rate,
    level: float,
    costs: Costs = USUAL,
) -> Sizing:
    """Grafts and the seeds of both sides, so that `wanted` plants are ready with chance `level`.

    A graft needs a usable stem of each side, and no more are made than are planned:
    ready = the share taken and kept of min(grafts, usable rootstocks, usable scions).
    Near the least cost, and every number grows, never shrinks, with the plants wanted and with the level.
    """
    _some(wanted)
    return _sized_up(_chain(wanted, rootstock, scion, take, kept), level, costs)


@lru_cache(maxsize=4096)
def _sized_up(chain: Chain, level: float, costs: Costs) -> Sizing:
    mix, chance = first_enough(chain, level, costs)
    numbers = (mix.grafts, mix.rootstock_seeds, mix.scion_seeds)
    return Sizing(*numbers, chance, chain.expected(*numbers))


def _chain(wanted: int, rootstock: Material, scion: Material, take: Rate, kept: Rate) -> Chain:
    return Chain(wanted, stems(rootstock), stems(scion), combine(take, kept))


def _some(wanted: int) -> None:
    if wanted <= 0:
        raise ValueError(f"a line wants at least one plant, not {wanted}")


def stems(material: Material) -> Rate:
    """The share of the seeds of a variety that become usable stems."""
    return combine(material.emerged, material.usable)


def _sized(chain: Chain, mix: Mix) -> Sizing:
    numbers = (mix.grafts, mix.rootstock_seeds, mix.scion_seeds)
    return Sizing(*numbers, chain.chance(*numbers), chain.expected(*numbers) if mix.grafts else 0.0)


# --- least cost, in whole trays ----------------------------------------------------------------------------


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
    costs: Costs = USUAL,
    rootstock_supply: Supply = LOOSE,
    scion_supply: Supply = LOOSE,
) -> Cheapest:
    """Grafts and seeds of both sides, chosen together, that give `wanted` plants at `level` for least cost.

    Unlike those of `size_grafted` a single number may shrink by a little where one plant more is wanted: another
    has grown in its place. ValueError for no plants or a cost of nothing, OutOfReach where no amount is enough.
    """
    _some(wanted)
    chain = _chain(wanted, rootstock, scion, take, kept)
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
    pairs = min(rootstock_seeds, scion_seeds)
    most = pairs if grafts is None else min(grafts, pairs)
    return _sized(_chain(wanted, rootstock, scion, take, kept), Mix(most, rootstock_seeds, scion_seeds))


def plain_given(wanted: int, material: Material, kept: Rate, seeds: int) -> Sizing:
    """The chance that these seeds of a plain line are enough."""
    _some(wanted)
    if seeds < 0:
        raise ValueError("seeds are counted from nought on")
    share = combine(material.emerged, material.usable, kept)
    return Sizing(0, 0, seeds, mesh.chance_of_at_least(wanted, seeds, share), seeds * share.mean)
