"""How likely each line of a batch is to be served in full, after the counts so far."""

from __future__ import annotations

from orders.models import Nursery, OrderLine

from .. import bridge
from ..models import Batch, Part
from ..planning.allocation import Claim, LineOutlook
from ..planning.batch_forecast import Growing, Grown, batch_outlook
from ..planning.terms import Wish

GROWING = (Part.State.PLANNED, Part.State.ALIVE)


def lines_expect(batch: Batch, nursery: Nursery) -> dict[int, LineOutlook]:
    """By line, what it is to expect of all parts of the batch together; none once every part is counted ready.

    Plants are divided as they are when counted ready: the earliest pickup first.
    """
    parts = [part for part in batch.parts.all() if part.state not in (Part.State.GONE, Part.State.DROPPED)]
    line = next((allocation.line for part in parts for allocation in part.allocations.all()), None)
    if line is None or batch.protocol is None or not any(part.state in GROWING for part in parts):
        return {}
    grown = _grown(bridge.wish_of(line, nursery=nursery, protocol=batch.protocol))
    if grown is None:
        return {}
    found = batch_outlook([_growing(part) for part in parts], grown, "by_pickup")
    return {int(each.key): each for each in found.lines}


def in_a_hundred(chance: float) -> int:
    """A chance as so many times in a hundred; 0 and 100 only where it is as good as certain."""
    if 0.0005 < chance < 0.9995:
        return min(max(round(100 * chance), 1), 99)
    return round(chance) * 100


def _growing(part: Part) -> Growing:
    claims = tuple(_claim(each.line, each.quantity, part) for each in part.allocations.all())
    return Growing(bridge.facts_of(part), bridge.part_plan_of(part).sizing, claims)


def _claim(line: OrderLine, quantity: int, part: Part) -> Claim:
    pickup = line.pickup or part.pickup
    return Claim(str(line.pk), quantity, pickup, promised=pickup, number=line.pk)


def _grown(wish: Wish) -> Grown | None:
    if wish.scion is None or wish.recipe is None:
        return None
    if wish.rootstock is None:
        return Grown(wish.scion, wish.recipe.kept)
    return Grown(wish.scion, wish.recipe.kept, wish.rootstock, wish.recipe.take)
