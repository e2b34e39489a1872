"""What one more seed and one more graft cost a nursery: seed bought, and hours and bench by the protocol."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, isfinite

from production.planning.clocks import OutsideModel, emergence_days, growth_gain
from production.planning.least_cost import USUAL, Costs
from production.planning.terms import (
    HAND_OVER,
    Container,
    Material,
    Place,
    Prices,
    Recipe,
    Stage,
    Wish,
)
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


def costs_for(wish: Wish, prices: Prices, places: Sequence[Place]) -> Costs:
    """What a seed and a graft of a line cost; the usual proportions where the price of a seed is not known.

    The nights of a side are those of its clock at the usual warmth of the first places of its kinds.
    """
    rootstock, scion, recipe = wish.rootstock, wish.scion, wish.recipe
    if rootstock is None or scion is None or recipe is None or wish.container is None:
        return USUAL
    if rootstock.seed_price is None or scion.seed_price is None:
        return USUAL
    try:
        nights = (
            _nights(material, stages, places)
            for material, stages in ((rootstock, recipe.rootstock), (scion, recipe.scion))
        )
        return costs_of(recipe, prices, Bought(rootstock.seed_price, scion.seed_price), wish.container, *nights)
    except (OutsideModel, ValueError):  # no honest number of nights, or something that costs nothing at all
        return USUAL


def _nights(material: Material, stages: Sequence[Stage], places: Sequence[Place]) -> int:
    germination, raising = (_warmth(stage, places) for stage in stages[:2])
    a_day = growth_gain(material.clock, raising)
    if not a_day:
        raise ValueError("at that temperature no stem grows")
    return ceil(emergence_days(material.clock, germination) + material.clock.graftable_aim / a_day)


def _warmth(stage: Stage, places: Sequence[Place]) -> float:
    usual = (place.warmth.usual for kind in stage.place_kinds for place in places if kind in place.kinds)
    degrees = next(usual, None)
    if degrees is None:
        raise ValueError("there is no place for it")
    return degrees


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
