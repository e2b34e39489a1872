"""What a plan costs: the hours of its work, its room and its seed, each at the price that is known of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .terms import PartPlan, Prices, StayPlan, Wish


@dataclass(frozen=True, slots=True)
class Spent:
    """In the coin of the prices. `seed_known`: whether all seed has a price; what has none counts for nothing."""

    work: float = 0.0
    room: float = 0.0
    seed: float = 0.0
    seed_known: bool = True

    @property
    def total(self) -> float:
        return self.work + self.room + self.seed

    def plus(self, other: Spent, share: float = 1.0) -> Spent:
        """With a share of what another one cost."""
        return Spent(
            self.work + share * other.work,
            self.room + share * other.room,
            self.seed + share * other.seed,
            self.seed_known and other.seed_known,
        )


def spent_on(wish: Wish, parts: Iterable[PartPlan], prices: Prices) -> Spent:
    """Hours of work, square metres for weeks however the place is measured, and seeds."""
    each, areas = list(parts), _areas(wish)
    hours = sum(work.total_hours for part in each for work in part.works)
    metre_weeks = sum(_metre_nights(stay, areas) for part in each for stay in part.stays) / 7
    price = {side.key: side.seed_price for side in (wish.rootstock, wish.scion) if side}
    seeds = [(sowing.seeds, price.get(sowing.material)) for part in each for sowing in part.sowings]
    return Spent(
        work=hours * prices.hour,
        room=metre_weeks * prices.metre_week,
        seed=sum(number * (one or 0.0) for number, one in seeds),
        seed_known=all(one is not None for _number, one in seeds),
    )


def _metre_nights(stay: StayPlan, areas: dict[str, float]) -> float:
    return stay.containers * areas.get(stay.container, 0.0) * stay.nights


def _areas(wish: Wish) -> dict[str, float]:
    recipe = wish.recipe
    stages = (*recipe.rootstock, *recipe.scion, *recipe.union, *recipe.plain) if recipe else ()
    containers = [stage.container for stage in stages] + [
        wish.container,
        wish.room.container if wish.room else None,
    ]
    return {container.key: container.area for container in containers if container}
