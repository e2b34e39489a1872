"""What waits for a person beside the day's work: customers to be told, and plants that are left over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from orders import states
from orders.models import Job, OrderLine

from ..models import Allocation, Count, Part
from .tally import Entry, entries_of, tally_of


def notice_key(line: OrderLine) -> str:
    """The pickup notice of these numbers; with other numbers it is another one."""
    return f"pickup-notice:{line.pk}:{line.ready_quantity}:{line.collected_quantity}"


def lines_to_tell() -> list[OrderLine]:
    """Lines with plants that wait for pickup, whose customers do not know of so many.

    Whoever fetched some stood before the rest, and knows of all that were counted ready until then.
    """
    ready = OrderLine.objects.filter(state=states.READY, order__own_crop=False).select_related(
        "order__customer", "scion", "rootstock"
    )
    waiting = {notice_key(line): line for line in ready.order_by("pickup", "pk") if line.outstanding > 0}
    told = set(Job.objects.filter(key__in=waiting).values_list("key", flat=True))
    untold = [line for key, line in waiting.items() if key not in told]
    seen = _ready_when_last_fetched([line for line in untold if line.collected_quantity])
    return [line for line in untold if line.ready_quantity > seen.get(line.pk, 0)]


def _ready_when_last_fetched(lines: Sequence[OrderLine]) -> dict[int, int]:
    """By line: how many were ready in all when some were fetched last."""
    kinds = (Count.Kind.READY, Count.Kind.HANDED_OVER)
    counts: dict[int, dict[int, list[Count]]] = {}
    for row in Count.objects.filter(kind__in=kinds, line__in=[line.pk for line in lines]):
        counts.setdefault(row.line_id or 0, {}).setdefault(row.part_id, []).append(row)
    return {
        line: _seen({part: entries_of(rows) for part, rows in parts.items()}) for line, parts in counts.items()
    }


def _seen(entries: dict[int, list[Entry]]) -> int:
    """Plants ready in all, of these parts, when some of any of them were handed over last."""
    fetched = [
        e.order for each in entries.values() for e in each if e.kind == Count.Kind.HANDED_OVER and e.quantity
    ]
    if not fetched:
        return 0
    until = max(fetched)
    ready = (
        [e.quantity for e in each if e.kind == Count.Kind.READY and e.order <= until] for each in entries.values()
    )
    return sum(numbers[-1] for numbers in ready if numbers)


@dataclass(frozen=True)
class LeftOver:
    """Plants that are ready and still stand, though no order wants them (any more)."""

    part: Part
    plants: int
    places: tuple[str, ...]


def left_over() -> Sequence[LeftOver]:
    wanted = Allocation.objects.filter(line__state__in=(states.ASKED, *states.TAKES_ROOM)).values("part")
    parts = Part.objects.filter(state=Part.State.READY).exclude(pk__in=wanted)
    found = []
    related = parts.select_related("batch__scion", "batch__rootstock")
    for part in related.prefetch_related("sowings", "counts", "stays__place").order_by("pk"):
        if plants := tally_of(part).standing:
            here = dict.fromkeys(stay.place.name for stay in part.stays.all() if stay.entered and not stay.left)
            found.append(LeftOver(part, plants, tuple(here)))
    return found
