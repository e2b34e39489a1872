"""Lines that share a sowing: what to sow for all of them together, and what each line's share of it is.

The luck of single plants evens out over more of them, so what is sown together needs less to spare than the sum of
what each line would need alone; that a whole lot does badly does not even out, and is spared for in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from production.planning import mesh
from production.planning.chain import Chain
from production.planning.chances import Array, combine
from production.planning.least_cost import USUAL, Costs
from production.planning.sizing import Cheapest, size_at_least_cost, size_grafted, stems
from production.planning.supply import LOOSE, Filled, Supply, filled
from production.planning.terms import Material, Rate, Side

# --- one combination for several lines ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Wanted:
    """Plants of one line, and the chance with which they must be ready."""

    key: str
    plants: int
    level: float = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """What of all that is sown and grafted together is meant for one line, and its chance to be served in full."""

    key: str
    plants: int
    grafts: int
    rootstock_seeds: int
    scion_seeds: int
    chance: float


@dataclass(frozen=True, slots=True)
class Pool:
    """Several lines sized as one; the shares add up to it."""

    together: Cheapest
    shares: tuple[Share, ...]


def pool(
    lines: Sequence[Wanted],
    rootstock: Material,
    scion: Material,
    take: Rate,
    kept: Rate,
    costs: Costs = USUAL,
    rootstock_supply: Supply = LOOSE,
    scion_supply: Supply = LOOSE,
) -> Pool:
    """Lines of one combination, sown and grafted as one batch; they are served in the order given.

    The strictest of their levels holds for the whole, so that every line has at least its own. ValueError without
    lines or for a line without plants.
    """
    if not lines or min(line.plants for line in lines) < 1:
        raise ValueError("a pool has a line at least, and each of them wants a plant at least")
    plants = [line.plants for line in lines]
    level = max(line.level for line in lines)
    grown = (rootstock, scion, take, kept)
    together = size_at_least_cost(sum(plants), *grown, level, costs, rootstock_supply, scion_supply)
    sizing = together.sizing
    parts = [divided(n, plants) for n in (sizing.grafts, sizing.rootstock_seeds, sizing.scion_seeds)]
    served = np.cumsum(plants)
    chain = (stems(rootstock), stems(scion), combine(take, kept))
    numbers = (sizing.grafts, sizing.rootstock_seeds, sizing.scion_seeds)
    chances = [Chain(int(first), *chain).chance(*numbers) for first in served]
    shares = zip(lines, *parts, chances, strict=True)
    return Pool(together, tuple(Share(line.key, line.plants, *told) for line, *told in shares))


def divided(number: int, among: Sequence[int]) -> list[int]:
    """A number divided in proportion, the odd ones to the largest remainders, the earlier of two equals first."""
    whole = sum(among)
    shares = [number * part // whole for part in among]
    by_remainder = sorted(range(len(among)), key=lambda i: (-(number * among[i] % whole), i))
    for i in by_remainder[: number - sum(shares)]:
        shares[i] += 1
    return shares


# --- one side for several combinations ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Use:
    """A line that takes its stems of one side from a sowing shared with others; `other` is its own second side."""

    key: str
    plants: int
    other: Material
    take: Rate
    kept: Rate
    level: float = 0.95


@dataclass(frozen=True, slots=True)
class SideShare:
    """What one line has of a shared sowing, and what it grafts and sows of its own other side."""

    key: str
    grafts: int
    seeds: int  # of the shared side
    other_seeds: int
    chance: float


@dataclass(frozen=True, slots=True)
class SidePool:
    """A shared sowing; `alone` is the sum of the seeds of that side that the lines would need each alone."""

    sown: Filled
    alone: int
    shares: tuple[SideShare, ...]


def pool_side(lines: Sequence[Use], shared: Material, side: Side, supply: Supply = LOOSE) -> SidePool:
    """The fewest seeds of a shared side with which every line meets its level, and each line's share of them.

    Grafts and the other side are those of each line alone; the stems are divided in proportion to the grafts.
    ValueError without lines, OutOfReach where a line alone is.
    """
    if not lines:
        raise ValueError("a shared sowing has a line at least")
    portions = _portions(lines, shared, side)
    alone = sum(portion.alone for portion in portions)
    enough = -(-_fewest(portions, shared, alone) // supply.cells) * supply.cells
    seeds = divided(enough, [portion.grafts for portion in portions])
    tail = mesh.tail(enough, stems(shared))
    shares = tuple(
        SideShare(portion.key, portion.grafts, own, portion.other_seeds, portion.chance(tail))
        for portion, own in zip(portions, seeds, strict=True)
    )
    return SidePool(filled(enough, supply), alone, shares)


@dataclass(frozen=True, slots=True)
class _Portion:
    """One line: its grafts, and the chance of each to be the last one needed and to find its other stem."""

    key: str
    level: float
    grafts: int
    other_seeds: int
    alone: int
    stems_for: Array  # stems of the whole sowing that this line's share of reaches each number of grafts
    weights: Array

    def chance(self, tail: mesh.Tail) -> float:
        return min(float(self.weights @ tail.at(self.stems_for)), 1.0)


def _portions(lines: Sequence[Use], shared: Material, side: Side) -> list[_Portion]:
    sizings = []
    for line in lines:
        pair = (shared, line.other) if side == "rootstock" else (line.other, shared)
        sizings.append(size_grafted(line.plants, *pair, line.take, line.kept, line.level))
    whole = sum(sizing.grafts for sizing in sizings)
    portions = []
    for line, sizing in zip(lines, sizings, strict=True):
        both = (sizing.rootstock_seeds, sizing.scion_seeds)
        mine, other = both if side == "rootstock" else both[::-1]
        cells, finishing = mesh.finishing_cells(line.plants, combine(line.take, line.kept), sizing.grafts)
        found = mesh.tail(other, stems(line.other)).at(cells.nodes)
        stems_for = np.ceil(cells.nodes * whole / sizing.grafts - 1e-9)
        weights = finishing * found
        numbers = (sizing.grafts, other, mine, stems_for.ravel(), weights.ravel())
        portions.append(_Portion(line.key, line.level, *numbers))
    return portions


def _fewest(portions: Sequence[_Portion], shared: Material, alone: int) -> int:
    """The fewest seeds with which every line meets its level; what they need alone, where nothing is gained."""

    def enough(seeds: int) -> bool:
        tail = mesh.tail(seeds, stems(shared))
        return all(portion.chance(tail) >= portion.level for portion in portions)

    low, high = sum(portion.grafts for portion in portions), alone
    if not enough(high):
        return alone
    while low < high:
        half = (low + high) // 2
        low, high = (low, half) if enough(half) else (half + 1, high)
    return high
