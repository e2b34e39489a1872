"""What waits for a person beside the day's work: customers to be told, and plants that are left over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from orders import states
from orders.models import Job, OrderLine

from ..models import Allocation, Part
from .tally import tally_of


def notice_key(line: OrderLine) -> str:
    """The pickup notice of these numbers; with other numbers it is another one."""
    return f"pickup-notice:{line.pk}:{line.ready_quantity}:{line.collected_quantity}"


def lines_to_tell() -> list[OrderLine]:
    """Lines with plants that wait for pickup, whose customers have not been told of so many."""
    ready = OrderLine.objects.filter(state=states.READY, order__own_crop=False).select_related(
        "order__customer", "scion", "rootstock"
    )
    waiting = {notice_key(line): line for line in ready.order_by("pickup", "pk") if line.outstanding > 0}
    told = set(Job.objects.filter(key__in=waiting).values_list("key", flat=True))
    return [line for key, line in waiting.items() if key not in told]


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
