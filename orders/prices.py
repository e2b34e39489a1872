"""Which price a line gets: the most particular row of the list that matches it."""

from __future__ import annotations

from decimal import Decimal

from .models import OrderLine, Price


def price_for(line: OrderLine) -> Decimal:
    """The unit price of the list for this line; zero when the list has none (the page then asks for one).

    The most particular row wins: crop, then method, then container, then the largest quantity it starts from.
    """
    crop = line.scion.crop_id if line.scion else None
    rows = [row for row in Price.objects.filter(kind=line.kind) if _matches(row, line, crop)]
    best = max(rows, key=_particular, default=None)
    return best.unit_price if best else Decimal(0)


def _matches(row: Price, line: OrderLine, crop: int | None) -> bool:
    return (
        row.crop_id in (None, crop)
        and row.method in ("", line.method)
        and row.container_id in (None, line.container_id)
        and row.two_leaders == line.topped
        and row.from_quantity <= line.quantity
    )


def _particular(row: Price) -> tuple[bool, bool, bool, int]:
    return (row.crop_id is not None, bool(row.method), row.container_id is not None, row.from_quantity)
