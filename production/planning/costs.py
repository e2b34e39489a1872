"""What one more seed and one more graft cost a nursery: seed bought, and hours and bench by the protocol."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import isfinite

from production.planning.least_cost import Costs
from production.planning.terms import HAND_OVER, Container, Prices, Recipe, Stage
from production.planning.works import hours_of


@dataclass(frozen=True, slots=True)
class Bought:
    """Prices of what is used up, in the coin of `Prices`: a seed of either side, and clips per graft."""

    rootstock_seed: float
    scion_seed: float
    per_graft: float = 0.0

    def __post_init__(self) -> None:
        for name, price in zip(
            self.__slots__, (self.rootstock_seed, self.scion_seed, self.per_graft), strict=True
        ):
            if not (isfinite(price) and price >= 0):
                raise ValueError(
                    f"{name}: a price is nought or more, not {price}; nought is for seed of the customer"
                )


def costs_of(
    recipe: Recipe,
    prices: Prices,
    bought: Bought,
    pot: Container,
    rootstock_nights: int,
    scion_nights: int,
) -> Costs:
    """Costs of a seed and of a graft by a protocol: what is bought, hours at their price, bench for its nights.

    A seed takes its cell from sowing to the graft, for the nights given, which the clocks know; a graft takes its
    place in each stage for the usual nights, in `pot` where the protocol names the line's own container.
    ValueError where something costs nothing at all: then prices of hours or bench are missing.
    """
    return Costs(
        rootstock_seed=bought.rootstock_seed + _raised(recipe.rootstock, prices, pot, rootstock_nights),
        scion_seed=bought.scion_seed + _raised(recipe.scion, prices, pot, scion_nights),
        graft=bought.per_graft + sum(_stage(stage, prices, pot, stage.nights.usual) for stage in recipe.union),
    )


def _raised(stages: Iterable[Stage], prices: Prices, pot: Container, nights: int) -> float:
    """The work of all stages of a side, and one cell for all its nights."""
    sides = list(stages)
    work = sum(_stage(stage, prices, pot, 0) for stage in sides)
    return work + (_room(sides[-1].container or pot, nights, prices) if sides else 0.0)


def _stage(stage: Stage, prices: Prices, pot: Container, nights: int) -> float:
    """One plant's work in a stage, but for handing it over, and its room for so many nights."""
    rules = (rule for rule in stage.works if rule.kind != HAND_OVER)
    hours = sum(hours for rule in rules for _, hours in hours_of(rule, 1))
    return hours * prices.hour + _room(stage.container or pot, nights, prices)


def _room(container: Container, nights: int, prices: Prices) -> float:
    return container.area / container.plants * nights / 7 * prices.metre_week
