"""From a seed lot forward to every customer, and from any plant handed over back to its seed lots."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from orders.models import OrderLine

from ..models import Allocation, Count, Part, SeedLot, Sowing
from .tally import Tally, tally_of


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
    sowings = lot.sowings.select_related("part__batch", "variety").prefetch_related("part__sowings")
    for sowing in sowings.order_by("sown_on", "pk"):
        tally = tally_of(sowing.part)
        seeds = tally.of(sowing).sown or 0
        lines = lines_of(sowing.part)
        found += [_forward(sowing, seeds, line, meant, tally) for line, meant in lines] or [
            Forward(sowing, seeds, None, 0, 0)
        ]
    return found


def _forward(sowing: Sowing, seeds: int, line: OrderLine, meant: int, tally: Tally) -> Forward:
    return Forward(sowing, seeds, line, meant, tally.handed_over_to(line))


def lines_of(part: Part) -> list[tuple[OrderLine, int]]:
    """Lines that the part is allocated to, and lines that got plants of it whatever was changed since."""
    meant = {
        allocation.line: allocation.quantity
        for allocation in part.allocations.select_related("line__order__customer")
    }
    got = OrderLine.objects.filter(counts__part=part, counts__kind=Count.Kind.HANDED_OVER)
    for line in got.select_related("order__customer").distinct():
        meant.setdefault(line, 0)
    return sorted(meant.items(), key=lambda pair: pair[0].pk)


def trace_line(line: OrderLine) -> list[Back]:
    """The seed lots, on both sides, that the plants of a line were or are grown from."""
    parts = Allocation.objects.filter(line=line).values("part")
    handed = Count.objects.filter(line=line).values("part")
    sowings = (
        Sowing.objects.filter(Q(part__in=parts) | Q(part__in=handed))
        .select_related("lot__customer", "variety", "part__batch")
        .prefetch_related("part__sowings")
    )
    return [
        Back(sowing.lot, sowing, tally_of(sowing.part).of(sowing).sown or 0, sowing.sown_on)
        for sowing in sowings.order_by("part_id", "subject", "day")
    ]
