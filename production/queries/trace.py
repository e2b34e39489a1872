"""From a seed lot forward to every customer, and from any plant handed over back to its seed lots."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from orders.models import OrderLine

from ..models import Allocation, Count, Part, SeedLot, Sowing
from .tally import Tally, tallies_of


@dataclass(frozen=True)
class Forward:
    """One sowing of a lot, and a line that its plants are for or went to (None: nobody's yet)."""

    sowing: Sowing
    seeds: int
    line: OrderLine | None
    meant: int
    handed_over: int


@dataclass(frozen=True)
class Back:
    """A lot that plants of a line were grown from."""

    lot: SeedLot | None
    sowing: Sowing
    seeds: int
    sown_on: date | None


def trace_lot(lot: SeedLot) -> list[Forward]:
    """Every line, and so every customer, that plants from this lot were promised or handed to."""
    found = []
    of_lot = lot.sowings.select_related("part__batch", "variety").prefetch_related("part__sowings")
    sowings = list(of_lot.order_by("sown_on", "pk"))
    parts = list({sowing.part_id: sowing.part for sowing in sowings}.values())
    tallies, lines_by_part = tallies_of(parts), lines_of(parts)
    for sowing in sowings:
        tally, lines = tallies[sowing.part_id], lines_by_part[sowing.part_id]
        seeds = tally.of(sowing).sown or 0
        found += [_forward(sowing, seeds, line, meant, tally) for line, meant in lines] or [
            Forward(sowing, seeds, None, 0, 0)
        ]
    return found


def _forward(sowing: Sowing, seeds: int, line: OrderLine, meant: int, tally: Tally) -> Forward:
    return Forward(sowing, seeds, line, meant, tally.handed_over_to(line))


def lines_of(parts: Collection[Part]) -> dict[int, list[tuple[OrderLine, int]]]:
    """By part: lines that it is allocated to, and lines that got plants of it whatever was changed since."""
    meant: dict[int, dict[OrderLine, int]] = {part.pk: {} for part in parts}
    for each in Allocation.objects.filter(part__in=meant).select_related("line__order__customer"):
        meant[each.part_id][each.line] = each.quantity
    got = Count.objects.filter(part__in=meant, kind=Count.Kind.HANDED_OVER, line__isnull=False)
    for count in got.select_related("line__order__customer"):
        if count.line:
            meant[count.part_id].setdefault(count.line, 0)
    return {part: sorted(lines.items(), key=lambda pair: pair[0].pk) for part, lines in meant.items()}


def trace_line(line: OrderLine) -> list[Back]:
    """The seed lots, on both sides, that the plants of a line were or are grown from."""
    parts = Allocation.objects.filter(line=line).values("part")
    handed = Count.objects.filter(line=line).values("part")
    found = Sowing.objects.filter(Q(part__in=parts) | Q(part__in=handed))
    found = found.select_related("lot__customer", "variety", "part__batch").prefetch_related("part__sowings")
    sowings = list(found.order_by("part_id", "subject", "day"))
    tallies = tallies_of([sowing.part for sowing in sowings])
    return [
        Back(sowing.lot, sowing, tallies[sowing.part_id].of(sowing).sown or 0, sowing.sown_on)
        for sowing in sowings
    ]
