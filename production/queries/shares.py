"""How likely each line of a batch is to be served in full, after the counts so far."""

from __future__ import annotations

from dataclasses import dataclass

from orders.models import Nursery, OrderLine

from .. import bridge, shared
from ..models import Batch, Part
from ..planning.allocation import Claim, LineOutlook
from ..planning.batch_forecast import Growing, Grown, batch_outlook
from ..planning.sizing import plain_given, size_given
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


@dataclass(frozen=True, slots=True)
class Enough:
    """The chance that what is planned to be sown gives the plants wanted: as it is, and with every cell filled."""

    as_planned: float
    filled: float


def trays_enough(batch: Batch, nursery: Nursery) -> dict[int, Enough]:
    """By part of which nothing is sown yet."""
    parts = [part for part in batch.parts.all() if _is_to_be_sown(part)]
    if not parts or batch.protocol_id is None:
        return {}
    protocol, calendar = bridge.protocols().get(pk=batch.protocol_id), bridge.calendar_of(nursery)
    wishes = (shared.wish_of_part(part, nursery=nursery, protocol=protocol, calendar=calendar) for part in parts)
    found = ((part.pk, _enough(part, wish)) for part, wish in zip(parts, wishes, strict=True))
    return {pk: enough for pk, enough in found if enough}


def _is_to_be_sown(part: Part) -> bool:
    sowings = list(part.sowings.all())
    return part.state == Part.State.PLANNED and bool(sowings) and not any(each.sown_on for each in sowings)


def _enough(part: Part, wish: Wish) -> Enough | None:
    recipe, scion = wish.recipe, wish.scion
    if recipe is None or scion is None:
        return None
    cells: dict[str, int] = {}
    for sowing in part.sowings.all():
        cells[sowing.subject] = cells.get(sowing.subject, 0) + sowing.trays * sowing.container.plants
    if wish.rootstock is None:
        found = plain_given(part.plants, scion, recipe.kept, cells["plain"])
    else:
        grown = (wish.rootstock, scion, recipe.take, recipe.kept)
        found = size_given(part.plants, *grown, cells["rootstock"], cells["scion"])
    return Enough(part.chance, found.chance)


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
