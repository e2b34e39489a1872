"""What plants of an order line come to: one row of a bill, before it is issued."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import money, states
from orders.models import OrderLine

NIGHTS_A_WEEK = 7  # room is priced by tray and week


@dataclass(frozen=True, slots=True)
class Item:
    line: OrderLine
    quantity: int
    text: str
    unit: str
    unit_price: Decimal  # 4 places; of room, for all its nights
    tax_rate: Decimal  # percent
    amount: Decimal  # 2 places


def item(
    line: OrderLine, quantity: int, *, unit_price: Decimal | None = None, tax_rate: Decimal | None = None
) -> Item:
    """So many plants (of a room-only line: trays), at the line's price and tax rate unless others are given."""
    price = usual_price(line) if unit_price is None else unit_price
    return Item(
        line=line,
        quantity=quantity,
        text=text_of(line),
        unit=unit_of(line, quantity),
        unit_price=price,
        tax_rate=line.tax_rate if tax_rate is None else tax_rate,
        amount=money.line_amount(quantity, price),
    )


def usual_price(line: OrderLine) -> Decimal:
    """The price of one plant; of one tray's room, its price a week × nights ÷ 7."""
    if line.kind != OrderLine.Kind.ROOM:
        return line.unit_price
    whole = line.unit_price * (line.room_nights or 0) / NIGHTS_A_WEEK
    return whole.quantize(money.UNIT, rounding=ROUND_HALF_UP)


def text_of(line: OrderLine) -> str:
    """'Tallis Red on Kelder, splice graft, two leaders, 72-cell tray', in the active language."""
    if line.kind == OrderLine.Kind.ROOM:
        nights = ngettext("%(n)s night", "%(n)s nights", line.room_nights or 0) % {"n": line.room_nights or 0}
        return f"{line.what}, {line.container}, {nights}"
    parts = [line.what]
    if line.kind == OrderLine.Kind.GRAFTED:
        parts.append(str(line.get_method_display()).lower())
    if line.topped:
        parts.append(_("topped for two leaders"))
    return ", ".join([*parts, str(line.container)])


def unit_of(line: OrderLine, quantity: int) -> str:
    if line.kind == OrderLine.Kind.ROOM:
        return ngettext("tray", "trays", quantity)
    return ngettext("plant", "plants", quantity)


def expected(line: OrderLine) -> int:
    """How many will be billed in the end: what was ordered, or what was taken of a line that has ended."""
    return line.collected_quantity if line.state in states.ENDED else max(line.quantity, line.collected_quantity)


def totals(items: Iterable[Item], *, tax_included: bool) -> money.Totals:
    return money.totals(((one.amount, one.tax_rate) for one in items), tax_included=tax_included)


# Columns of a line that its price takes, for reading many lines without what names them.
PRICED = ("kind", "unit_price", "room_nights", "tax_rate", "quantity", "collected_quantity", "state")


def priced(line: Any, quantity: int) -> tuple[Decimal, Decimal]:
    """What so many come to, and at what rate of tax: of a line, or of a row with the columns PRICED."""
    return money.line_amount(quantity, usual_price(line)), line.tax_rate


def value(lines: Iterable[Any], *, tax_included: bool) -> Decimal:
    """What lines, or rows with the columns PRICED, come to in the end, with tax."""
    return money.totals((priced(line, expected(line)) for line in lines), tax_included=tax_included).gross
