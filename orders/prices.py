"""Which price a line gets: the most particular row of the list that matches it."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from .models import OrderLine, Price
from .money import UNIT


def price_for(line: OrderLine) -> Decimal:
    """The unit price of the list for this line; zero when the list has none (the page then asks for one).

    The most particular row wins: crop, then method, then container, then the largest quantity it starts from.
    Room is priced by tray and week: the line's unit price is that of one tray for all its nights, so that every
    line comes to quantity × unit price.
    """
    crop = line.scion.crop_id if line.scion else None
    rows = [row for row in Price.objects.filter(kind=line.kind) if _matches(row, line, crop)]
    best = max(rows, key=_particular, default=None)
    if best is None:
        return Decimal(0)
    if line.kind == OrderLine.Kind.ROOM:
        return (best.unit_price * (line.room_nights or 0) / 7).quantize(UNIT, rounding=ROUND_HALF_UP)
    return best.unit_price


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
