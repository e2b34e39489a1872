"""Reads of what was handed over and not billed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Case, F, IntegerField, OuterRef, QuerySet, Value, When

from orders import money
from orders.models import Nursery, Order, OrderLine

from ..items import PRICED, Item, item, priced, usual_price
from ..models import Collection, Invoice, InvoiceLine
from .amounts import summed
from .in_short import InShort

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
    lines = OrderLine.objects.filter(collected_quantity__gt=0).select_related("order__customer", *NAMED)
    return with_billed(lines).filter(to_bill__gt=0).order_by("order_id", "number")


@dataclass(frozen=True, slots=True)
class Unbilled:
    """What an order has to bill, in short. Tax is in the sum."""

    order_id: int
    gross: Decimal
    since: date | None  # the first of those hand-overs that is known
    unpriced: bool  # a line has no price yet


@dataclass(frozen=True, slots=True)
class ToBill:
    """What was taken of one order and not billed."""

    order: Order
    items: list[Item]
    gross: Decimal
    since: date | None  # as in Unbilled
    unpriced: bool


def to_bill() -> InShort[Unbilled, ToBill]:
    """All orders with something to bill, the longest waiting first."""
    columns = ("id", "order_id", "billed", "to_bill", *PRICED)
    lines = list(lines_to_bill().select_related(None).values_list(*columns, named=True))
    since = _waiting_since({line.id: (line.billed, line.order_id) for line in lines})
    tax_included = Nursery.current().prices_include_tax
    sums = []
    for order, of_order in groupby(lines, key=attrgetter("order_id")):
        rows = list(of_order)
        gross = money.totals((priced(row, row.to_bill) for row in rows), tax_included=tax_included).gross
        sums.append(Unbilled(order, gross, since.get(order), any(not usual_price(row) for row in rows)))
    return InShort(sorted(sums, key=lambda one: (one.since or date.max, one.order_id)), _whole)


def _whole(sums: list[Unbilled]) -> list[ToBill]:
    lines = lines_to_bill().filter(order__in=[one.order_id for one in sums])
    by_order = {key: list(rows) for key, rows in groupby(lines, key=attrgetter("order_id"))}
    return [_to_bill(one, by_order[one.order_id]) for one in sums if one.order_id in by_order]


def _to_bill(one: Unbilled, lines: list[Line]) -> ToBill:
    items = [item(line, line.to_bill) for line in lines]
    return ToBill(lines[0].order, items, one.gross, one.since, one.unpriced)


def _waiting_since(lines: dict[int, tuple[int, int]]) -> dict[int, date]:
    """By order: the day of the first hand-over that no invoice has reached, taking hand-overs in their order.

    `lines` says of each line how many of it are billed, and its order.
    """
    seen: dict[int, int] = {}
    since: dict[int, date] = {}
    taken = Collection.objects.filter(order_line__in=lines_to_bill().order_by().values("pk")).order_by("on", "id")
    for line, quantity, on in taken.values_list("order_line", "quantity", "on"):
        if line not in lines:
            continue  # handed over since the lines were read
        billed, order = lines[line]
        seen[line] = seen.get(line, 0) + quantity
        if seen[line] > billed:
            since[order] = min(on, since.get(order, on))
    return since
