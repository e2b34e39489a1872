"""Which lots a sowing may be sown from, what is left of them, and when seed it waits for is expected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, Sum
from django.db.models.functions import Coalesce

from orders.models import OrderLine

from ..models import Count, SeedLot, Sowing


def stock(varieties: Iterable[int]) -> list[SeedLot]:
    """Lots of these varieties that are not used up, each with `sown`: the seeds sown of it, by the counts."""
    counted = Q(sowings__counts__kind=Count.Kind.SOWN, sowings__counts__corrected_by__isnull=True)
    lots = SeedLot.objects.filter(variety__in=varieties, used_up=False)
    return list(lots.annotate(sown=Coalesce(Sum("sowings__counts__quantity", filter=counted), 0)))


def seeds_left(lot: SeedLot) -> int:
    sown = Count.objects.filter(sowing__lot=lot, kind=Count.Kind.SOWN, corrected_by__isnull=True)
    return lot.seeds - (sown.aggregate(total=Sum("quantity"))["total"] or 0)


@dataclass(frozen=True)
class Supply:
    """Seed for one sowing: the lots in hand that have some left, oldest first, or what it waits for."""

    lots: tuple[tuple[SeedLot, int], ...]  # with the seeds left of each
    customers: bool
    expected: date | None

    def first_with(self, seeds: int) -> SeedLot | None:
        return next((lot for lot, left in self.lots if left >= seeds), None)


def supply_of(sowing: Sowing, today: date) -> Supply:
    """Lots in hand that this sowing may be sown from: the customer's if the line says so, else ours."""
    return supply_for(sowing, line_of(sowing), stock([sowing.variety_id]), today)


def supply_for(sowing: Sowing, line: OrderLine | None, lots: Iterable[SeedLot], today: date) -> Supply:
    """The same from lots that are read already, with their `stock`."""
    customers = brings_seed(line, sowing.subject)
    whose = line.order.customer_id if line and customers else None
    own = [lot for lot in lots if lot.variety_id == sowing.variety_id and lot.customer_id == whose]
    in_hand = [lot for lot in own if lot.received_on and lot.received_on <= today]
    with_left = [(lot, lot.seeds - getattr(lot, "sown", 0)) for lot in sorted(in_hand, key=_oldest_first)]
    coming = [lot.received_on or lot.expected_on for lot in own if lot not in in_hand]
    return Supply(
        lots=tuple((lot, left) for lot, left in with_left if left > 0),
        customers=customers,
        expected=min((day for day in coming if day), default=_said_on_the_line(sowing, line, customers)),
    )


def _oldest_first(lot: SeedLot) -> tuple[date, int]:
    return lot.received_on or date.max, lot.pk


def _said_on_the_line(sowing: Sowing, line: OrderLine | None, customers: bool) -> date | None:
    if line is None or not customers:
        return None
    root = sowing.subject == Sowing.Subject.ROOTSTOCK
    return line.rootstock_seed_expected if root else line.scion_seed_expected


def line_of(sowing: Sowing) -> OrderLine | None:
    allocation = next(iter(sowing.part.allocations.all()), None)
    return allocation.line if allocation else None


def brings_seed(line: OrderLine | None, subject: str) -> bool:
    if line is None:
        return False
    side = line.rootstock_seed if subject == Sowing.Subject.ROOTSTOCK else line.scion_seed
    return side == OrderLine.Seed.CUSTOMERS
