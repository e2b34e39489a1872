"""Which lots a sowing may be sown from, what is left of them, and when seed it waits for is expected."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from orders.models import OrderLine

from ..models import Count, SeedLot, Sowing


def with_seeds_left(lots: QuerySet[SeedLot]) -> QuerySet[SeedLot]:
    """Lots with `sown`: the seeds that were sown of each, by the counts."""
    counted = Q(sowings__counts__kind=Count.Kind.SOWN, sowings__counts__corrected_by__isnull=True)
    return lots.annotate(sown=Coalesce(Sum("sowings__counts__quantity", filter=counted), 0))


def seeds_left(lot: SeedLot) -> int:
    sown = Count.objects.filter(sowing__lot=lot, kind=Count.Kind.SOWN, corrected_by__isnull=True)
    return lot.seeds - (sown.aggregate(total=Sum("quantity"))["total"] or 0)


@dataclass(frozen=True)
class Supply:
    """Seed for one sowing: the lots in hand that have some left, largest need first, or what it waits for."""

    lots: tuple[tuple[SeedLot, int], ...]  # with the seeds left of each
    customers: bool
    expected: date | None

    def first_with(self, seeds: int) -> SeedLot | None:
        return next((lot for lot, left in self.lots if left >= seeds), None)


def supply_of(sowing: Sowing, today: date) -> Supply:
    """Lots in hand that this sowing may be sown from: the customer's if the line says so, else ours."""
    line = line_of(sowing)
    customers = _brings_seed(line, sowing.subject)
    lots = _lots(sowing, line, customers)
    in_hand = with_seeds_left(lots.filter(received_on__lte=today)).order_by("received_on", "id")
    with_left = [(lot, lot.seeds - getattr(lot, "sown", 0)) for lot in in_hand]
    return Supply(
        lots=tuple((lot, left) for lot, left in with_left if left > 0),
        customers=customers,
        expected=_expected(lots, line, sowing.subject, customers, today),
    )


def line_of(sowing: Sowing) -> OrderLine | None:
    allocation = next(iter(sowing.part.allocations.all()), None)
    return allocation.line if allocation else None


def _brings_seed(line: OrderLine | None, subject: str) -> bool:
    if line is None:
        return False
    side = line.rootstock_seed if subject == Sowing.Subject.ROOTSTOCK else line.scion_seed
    return side == OrderLine.Seed.CUSTOMERS


def _lots(sowing: Sowing, line: OrderLine | None, customers: bool) -> QuerySet[SeedLot]:
    lots = SeedLot.objects.filter(variety=sowing.variety_id, used_up=False)
    if customers and line is not None:
        return lots.filter(customer=line.order.customer_id, customer__isnull=False)
    return lots.filter(customer__isnull=True)


def _expected(
    lots: QuerySet[SeedLot], line: OrderLine | None, subject: str, customers: bool, today: date
) -> date | None:
    coming = lots.filter(Q(received_on__isnull=True) | Q(received_on__gt=today)).order_by("expected_on").first()
    if coming:
        return coming.expected_on or coming.received_on
    if customers and line is not None:
        return line.rootstock_seed_expected if subject == Sowing.Subject.ROOTSTOCK else line.scion_seed_expected
    return None
