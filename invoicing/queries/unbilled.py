"""Reads of what was handed over and not billed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Case, F, IntegerField, OuterRef, QuerySet, Value, When

from orders.models import Nursery, Order, OrderLine

from ..items import Item, item, totals
from ..models import Collection, Invoice, InvoiceLine
from .amounts import summed

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Counts(TypedDict):
        billed: int  # invoiced, less what a credit note put back to be billed again
        to_bill: int  # handed over and not billed

    Line = WithAnnotations[OrderLine, Counts]

NAMED = ("scion", "rootstock", "container")  # what the name of a line takes


def with_billed(lines: QuerySet[OrderLine]) -> QuerySet[Line]:
    """Each line with `billed` and `to_bill`."""
    counted = Case(
        When(invoice__kind=Invoice.Kind.INVOICE, then=F("quantity")),
        When(invoice__bill_again=True, then=-F("quantity")),
        default=Value(0),
        output_field=IntegerField(),
    )
    billed = summed(InvoiceLine.objects.filter(order_line=OuterRef("pk")), "order_line", counted, IntegerField())
    # '0 +' keeps a difference of unsigned columns signed.
    return lines.annotate(billed=billed).annotate(
        to_bill=Case(
            When(order__own_crop=True, then=Value(0)),
            default=Value(0) + F("collected_quantity") - F("billed"),
            output_field=IntegerField(),
        )
    )


def lines_to_bill() -> QuerySet[Line]:
    """Lines of which plants were handed over and not billed, order by order. Our own crop is never billed."""
    lines = OrderLine.objects.select_related("order__customer", *NAMED)
    return with_billed(lines).filter(to_bill__gt=0).order_by("order_id", "number")


@dataclass(frozen=True, slots=True)
class ToBill:
    """What was taken of one order and not billed."""

    order: Order
    items: list[Item]
    gross: Decimal
    since: date | None  # the first of those hand-overs that is known
    unpriced: bool  # a line has no price yet


def to_bill() -> list[ToBill]:
    """All orders with something to bill, the longest waiting first."""
    nursery = Nursery.current()
    by_order = [(order, list(lines)) for order, lines in groupby(lines_to_bill(), key=lambda line: line.order)]
    since = _waiting_since([line for _order, lines in by_order for line in lines])
    found = [_to_bill(order, lines, nursery, since.get(order.pk)) for order, lines in by_order]
    return sorted(found, key=lambda one: (one.since or date.max, one.order.pk))


def _to_bill(order: Order, lines: list[Line], nursery: Nursery, since: date | None) -> ToBill:
    items = [item(line, line.to_bill) for line in lines]
    gross = totals(items, tax_included=nursery.prices_include_tax).gross
    return ToBill(order, items, gross, since, any(not one.unit_price for one in items))


def _waiting_since(lines: list[Line]) -> dict[int, date]:
    """By order: the day of the first hand-over that no invoice has reached, taking hand-overs in their order."""
    billed = {line.pk: (line.billed, line.order_id) for line in lines}
    seen: dict[int, int] = {}
    since: dict[int, date] = {}
    for row in Collection.objects.filter(order_line__in=billed).order_by("on", "id"):
        before, order = billed[row.order_line_id]
        seen[row.order_line_id] = seen.get(row.order_line_id, 0) + row.quantity
        if seen[row.order_line_id] > before:
            since[order] = min(row.on, since.get(order, row.on))
    return since
