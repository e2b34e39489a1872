"""THE place for money: rounding, tax and totals. Plain Python; every amount is a Decimal.

Amounts have 2 places, unit prices 4, halves round up (away from zero). Tax is reckoned per rate on the summed net,
as EN 16931 does (BT-117 = BT-116 × rate, 2 decimals).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
UNIT = Decimal("0.0001")
HUNDRED = Decimal(100)


def amount(value: Decimal) -> Decimal:
    """Rounded to 2 places, halves away from zero."""
    return value.quantize(CENT, rounding=ROUND_HALF_UP)


def line_amount(quantity: int | Decimal, unit_price: Decimal) -> Decimal:
    """What a line comes to: quantity × unit price, rounded once."""
    return amount(Decimal(quantity) * unit_price)


def percent_of(whole: Decimal, percent: Decimal) -> Decimal:
    return amount(whole * percent / HUNDRED)


@dataclass(frozen=True, slots=True)
class TaxRow:
    """All that is taxed at one rate."""

    rate: Decimal  # percent
    net: Decimal
    tax: Decimal


@dataclass(frozen=True, slots=True)
class Totals:
    net: Decimal
    tax: Decimal
    gross: Decimal
    rows: tuple[TaxRow, ...]  # one per rate, lowest rate first


def totals(lines: Iterable[tuple[Decimal, Decimal]], *, tax_included: bool = False) -> Totals:
    """Totals of (amount, tax rate in percent) pairs.

    With `tax_included` the amounts are gross and the tax is taken out of the sum of each rate.
    """
    sums: dict[Decimal, Decimal] = {}
    for value, rate in lines:
        sums[rate] = sums.get(rate, Decimal(0)) + value
    rows = tuple(_tax_row(rate, sums[rate], tax_included) for rate in sorted(sums))
    net = sum((row.net for row in rows), Decimal(0))
    tax = sum((row.tax for row in rows), Decimal(0))
    return Totals(net=amount(net), tax=amount(tax), gross=amount(net + tax), rows=rows)


def _tax_row(rate: Decimal, value: Decimal, tax_included: bool) -> TaxRow:
    if tax_included:
        tax = amount(value * rate / (HUNDRED + rate))
        return TaxRow(rate, amount(value) - tax, tax)
    return TaxRow(rate, amount(value), amount(value * rate / HUNDRED))
