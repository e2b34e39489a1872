"""What the lines that share a part ask for together, as the planner sees it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from orders.models import Nursery, OrderLine

from . import bridge
from .models import Part, Protocol
from .planning import terms
from .planning.joining import collection_over
from .queries.works import label_of


def wish_of_part(
    part: Part,
    *,
    nursery: Nursery,
    protocol: Protocol | None,
    calendar: terms.Calendar,
    lots: bridge.Lots | None = None,
) -> terms.Wish:
    """A part as one wish at its own size: ready by the first pickup of its lines, kept until the last day of any.

    Plants that nobody ordered are grown as if somebody asked for them.
    """
    lines = lines_of(part)
    wish = bridge.wish_of(
        lines[0] if lines else _line_as_if(part),
        nursery=nursery,
        protocol=protocol,
        pickup=part.pickup,
        quantity=part.plants,
        key=f"part:{part.pk}",
        label=label_of(part),
        lots=lots,
    )
    if len(lines) < 2:
        return wish
    pickup, collection = collection_over(calendar, [(_pickup(line, part), line.collection_days) for line in lines])
    return replace(wish, pickup=pickup, collection=collection)


def wish_of_all(line: OrderLine, parts: Sequence[Part], wish: terms.Wish, nursery: Nursery) -> terms.Wish:
    """The wish of a line, grown to hold all who share any of its parts with it; its own where nobody does."""
    lines = {each.pk: each for part in parts for each in lines_of(part)} | {line.pk: line}
    if len(lines) < 2:
        return wish
    windows = [(each.pickup or wish.pickup, each.collection_days) for each in lines.values()]
    pickup, collection = collection_over(bridge.calendar_of(nursery), windows)
    labels = dict.fromkeys(str(each) if each.number > 1 else str(each.order) for each in lines.values())
    return replace(
        wish,
        label=", ".join(labels),
        quantity=sum(part.plants for part in parts),
        pickup=pickup,
        earlier=0,
        later=0,
        collection=collection,
    )


def lines_of(part: Part) -> list[OrderLine]:
    """The lines that the part is for, the one that owns its claims first."""
    return [each.line for each in sorted(part.allocations.all(), key=lambda each: each.line_id)]


def first_pickup(part: Part, lines: Sequence[OrderLine]) -> date:
    return min((_pickup(line, part) for line in lines), default=part.pickup)


def _pickup(line: OrderLine, part: Part) -> date:
    return line.pickup or part.pickup


def _line_as_if(part: Part) -> OrderLine:
    batch = part.batch
    return OrderLine(
        kind=batch.kind,
        scion=batch.scion,
        rootstock=batch.rootstock,
        method=batch.method,
        leaders=OrderLine.Leaders.TWO_TOPPED if part.topped else OrderLine.Leaders.ONE,
        container=part.container,
        quantity=part.plants,
        pickup_asked=part.pickup,
    )
