"""What a line costs the nursery and what it leaves: seed, hours and bench at its own prices, beside what is paid.

For the eyes of those who may see costs (`orders.see_costs`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from orders import money
from orders.models import Nursery, OrderLine, Variety
from orders.prices import price_for

from . import bridge, shared
from .models import Part, Sowing
from .planning import terms
from .planning.spending import Spent, spent_on
from .planning.supply import Supply, filled
from .queries.seed import brings_seed


@dataclass(frozen=True, slots=True)
class LineCost:
    """Amounts of one line. `seed_known`: whether all seed has a price; `price` is before tax, 0 if nobody pays."""

    quantity: int
    seed: Decimal
    work: Decimal
    room: Decimal
    seed_known: bool
    price: Decimal

    @property
    def total(self) -> Decimal:
        return self.seed + self.work + self.room

    @property
    def each(self) -> Decimal:
        return money.amount(self.total / self.quantity)

    @property
    def margin(self) -> Decimal:
        return self.price - self.total

    @property
    def margin_percent(self) -> Decimal | None:
        """Of the price, to a tenth; None where nobody pays."""
        return (100 * self.margin / self.price).quantize(Decimal("0.1")) if self.price else None


def cost_of_plan(line: OrderLine, plan: terms.LinePlan, *, nursery: Nursery) -> LineCost:
    """What a plan that may not be stored yet costs; of a batch with others on it, the share of this line."""
    spent = spent_on(plan.wish, plan.parts, prices_of(nursery))
    share = line.quantity / max(plan.wish.quantity, 1) if line.kind != OrderLine.Kind.ROOM else 1.0
    return _line_cost(line, Spent().plus(spent, share), nursery)


def line_cost(line: OrderLine, *, nursery: Nursery) -> LineCost:
    """What a promised line costs as its batches stand now; of those that others share, its share."""
    spent, calendar, prices = Spent(), bridge.calendar_of(nursery), prices_of(nursery)
    parts = list(bridge.parts_of(line).prefetch_related("allocations__line__order"))
    protocols = bridge.protocols_of(parts)
    for part in parts:
        protocol = protocols.get(part.batch.protocol_id or 0)
        wish = shared.wish_of_part(part, nursery=nursery, protocol=protocol, calendar=calendar)
        spent = spent.plus(spent_on(wish, [bridge.part_plan_of(part)], prices), _share(part, line))
    return _line_cost(line, spent, nursery)


def _share(part: Part, line: OrderLine) -> float:
    meant = {each.line_id: each.quantity for each in part.allocations.all()}
    return meant.get(line.pk, 0) / max(sum(meant.values()), 1)


def _line_cost(line: OrderLine, spent: Spent, nursery: Nursery) -> LineCost:
    return LineCost(
        quantity=max(line.quantity, 1),
        seed=_amount(spent.seed),
        work=_amount(spent.work),
        room=_amount(spent.room),
        seed_known=spent.seed_known,
        price=_paid(line, nursery),
    )


def _paid(line: OrderLine, nursery: Nursery) -> Decimal:
    """What the line brings, before tax; nothing of our own crop."""
    if line.order_id and line.order.own_crop:
        return Decimal(0)
    amount = money.line_amount(line.quantity, line.unit_price or price_for(line))
    rate = line.tax_rate or nursery.tax_rate
    return money.totals([(amount, rate)], tax_included=nursery.prices_include_tax).net


def _amount(value: float) -> Decimal:
    return money.amount(Decimal(str(round(value, 6))))


def prices_of(nursery: Nursery) -> terms.Prices:
    return terms.Prices(hour=float(nursery.hour_price), metre_week=float(nursery.metre_week_price))


# --- seed ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ToBuy:
    """Seed for a sowing: what it costs, and the packs it comes in; None where that is not known."""

    seeds: int
    cost: Decimal | None
    packs: int | None = None
    pack: int | None = None


def seed_to_buy(variety: Variety, seeds: int) -> ToBuy:
    """What so many seeds cost, and the packs to open for them; what is left in a pack keeps and costs nothing."""
    cost = None if variety.seed_price is None else money.amount(seeds * variety.seed_price)
    if not variety.pack_seeds:
        return ToBuy(seeds, cost)
    return ToBuy(seeds, cost, filled(seeds, Supply(pack=variety.pack_seeds)).packs, variety.pack_seeds)


def seed_for_part(part: Part, *, costs: bool) -> list[tuple[Sowing, ToBuy | None]]:
    """Each sowing of a part; the first of a side with the seed to buy for all of it, with `costs` at its price.

    None for the others, and where the customer brings the seed.
    """
    lines = [each.line for each in part.allocations.all()]
    sowings = list(part.sowings.all())
    seeds: dict[str, int] = {}
    for sowing in sowings:
        seeds[sowing.subject] = seeds.get(sowing.subject, 0) + sowing.seeds
    found: list[tuple[Sowing, ToBuy | None]] = []
    for sowing in sowings:
        wanted = seeds.pop(sowing.subject, None)
        if wanted is None or any(brings_seed(line, sowing.subject) for line in lines):
            found.append((sowing, None))
        else:
            to_buy = seed_to_buy(sowing.variety, wanted)
            found.append((sowing, to_buy if costs else replace(to_buy, cost=None)))
    return found
