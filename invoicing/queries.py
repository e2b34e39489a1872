"""Reads of the bill: what was handed over and not billed, what is owed, and how an order stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import TYPE_CHECKING, Any, TypedDict

from django.db import models
from django.db.models import (
    Case,
    DecimalField,
    F,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce, Round
from django.utils.translation import gettext_lazy as _

from orders import money, states, wording
from orders.models import Nursery, Order, OrderLine

from .items import Item, expected, item, totals
from .models import Collection, Invoice, InvoiceLine, Payment

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Sums(TypedDict):
        paid: Decimal  # since it was issued, less what was given back
        credited: Decimal
        balance: Decimal  # still owed; below zero, paid too much; 0 of a credit note

    class Counts(TypedDict):
        billed: int  # invoiced, less what a credit note put back to be billed again
        to_bill: int  # handed over and not billed

    Paper = WithAnnotations[Invoice, Sums]
    Line = WithAnnotations[OrderLine, Counts]

ZERO = Decimal("0.00")
_NAMED = ("scion", "rootstock", "container")  # what the name of a line takes


class Amount(DecimalField):
    """A reckoned amount: SQLite adds binary fractions, so it is rounded where it comes in."""

    def from_db_value(self, value: Decimal | None, _expression: Any, _connection: Any) -> Decimal | None:
        return None if value is None else money.amount(value)


AMOUNT = Amount(max_digits=14, decimal_places=2)


class MoneyState(models.TextChoices):
    """What an order says of its money; '' before anything is to bill."""

    NOTHING = "", ""
    TO_BILL = "to_bill", _("to bill")
    BILLED = "billed", _("billed")
    PAID_IN_PART = "paid_in_part", _("paid in part")
    PAID = "paid", _("paid")


class InvoiceState(models.TextChoices):
    BILLED = "billed", _("billed")
    OVERDUE = "overdue", _("overdue")
    PAID_IN_PART = "paid_in_part", _("paid in part")
    PAID = "paid", _("paid")
    PAID_TOO_MUCH = "paid_too_much", _("paid too much")
    CREDITED = "credited", _("credited")


# --- invoices ---------------------------------------------------------------------------------------------

# A payment adds; what was given back takes away; taking back a mistake does the opposite of the mistake.
_ADDS = Q(kind=Payment.Kind.PAYMENT) | Q(kind=Payment.Kind.TAKEN_BACK, corrects__kind=Payment.Kind.REFUND)
_SIGNED = Case(When(_ADDS, then=F("amount")), default=-F("amount"), output_field=AMOUNT)


def papers() -> QuerySet[Paper]:
    """Invoices and credit notes, newest first, each with `paid`, `credited` and `balance`."""
    paid = _sum(Payment.objects.filter(invoice=OuterRef("pk")), "invoice", _SIGNED, AMOUNT)
    credited = _sum(Invoice.objects.filter(corrects=OuterRef("pk")), "corrects", F("total"), AMOUNT)
    owed = F("total") - F("deposit") - F("paid") - F("credited")
    return (
        Invoice.objects.select_related("customer", "order", "corrects")
        .annotate(paid=Round(paid, 2, output_field=AMOUNT), credited=Round(credited, 2, output_field=AMOUNT))
        .annotate(
            balance=Case(
                When(kind=Invoice.Kind.INVOICE, then=Round(owed, 2, output_field=AMOUNT)),
                default=Value(ZERO),
                output_field=AMOUNT,
            )
        )
    )


def invoices() -> QuerySet[Paper]:
    """As papers(), without credit notes."""
    return papers().filter(kind=Invoice.Kind.INVOICE)


def paper(number: str) -> Paper:
    """One invoice or credit note by its number; raises Invoice.DoesNotExist."""
    return papers().get(number=number)


def owed() -> QuerySet[Paper]:
    """Invoices on which something is still due, the one due first on top."""
    return invoices().filter(balance__gt=ZERO).order_by("due_on", "id")


def owed_words(invoices: Iterable[Paper]) -> str:
    """'€120.00', or '€120.00 and £7.50' where a nursery has billed in two currencies."""
    sums: dict[str, Decimal] = {}
    for invoice in invoices:
        sums[invoice.currency] = sums.get(invoice.currency, ZERO) + invoice.balance
    return _(" and ").join(wording.money(value, currency) for currency, value in sums.items())


def overdue(today: date) -> QuerySet[Paper]:
    return owed().filter(due_on__lt=today)


def paid_too_much() -> QuerySet[Paper]:
    return invoices().filter(balance__lt=ZERO)


def find_papers(words: str = "") -> QuerySet[Paper]:
    """Papers whose number, customer or order has all the words."""
    found = papers()
    for word in words.split():
        found = found.filter(
            Q(number__icontains=word) | Q(buyer_name__icontains=word) | Q(order__code__iexact=word)
        )
    return found


def invoice_state(invoice: Paper, today: date) -> InvoiceState:
    """How an invoice of invoices() stands."""
    if invoice.balance < 0:
        return InvoiceState.PAID_TOO_MUCH
    if invoice.balance == 0:
        return (
            InvoiceState.CREDITED if invoice.credited and invoice.credited == invoice.total else InvoiceState.PAID
        )
    if invoice.due_on and invoice.due_on < today:
        return InvoiceState.OVERDUE
    return InvoiceState.PAID_IN_PART if invoice.paid > 0 or invoice.deposit > 0 else InvoiceState.BILLED


def left_to_credit(invoice: Invoice) -> dict[InvoiceLine, int]:
    """How much of each line has not been credited yet."""
    credited = _sum(InvoiceLine.objects.filter(corrects=OuterRef("pk")), "corrects", F("quantity"), IntegerField())
    lines = invoice.lines.select_related("order_line").annotate(credited=credited)
    return {line: line.quantity - line.credited for line in lines}


# --- to bill ----------------------------------------------------------------------------------------------


def with_billed(lines: QuerySet[OrderLine]) -> QuerySet[Line]:
    """Each line with `billed` and `to_bill`."""
    counted = Case(
        When(invoice__kind=Invoice.Kind.INVOICE, then=F("quantity")),
        When(invoice__bill_again=True, then=-F("quantity")),
        default=Value(0),
        output_field=IntegerField(),
    )
    billed = _sum(InvoiceLine.objects.filter(order_line=OuterRef("pk")), "order_line", counted, IntegerField())
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
    lines = OrderLine.objects.select_related("order__customer", *_NAMED)
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


# --- one order --------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class OrderMoney:
    """All that an order's money panel shows. Amounts include tax."""

    order: Order
    currency: str
    state: MoneyState
    to_bill: list[Item]
    to_bill_gross: Decimal
    papers: list[Paper]  # oldest first, as papers()
    payments: list[Payment]  # of the order and of its invoices, newest first
    value: Decimal  # what the order comes to: ordered, or taken of lines that have ended
    deposit_asked: Decimal
    deposit_received: Decimal
    deposit_in_hand: Decimal  # received and not yet set against an invoice
    owed: Decimal
    to_give_back: Decimal  # paid too much, and a deposit left over when nothing more is to come
    may_take_deposit: bool  # a later invoice would count it


def order_money(order: Order) -> OrderMoney:
    nursery = Nursery.current()
    to_bill = [item(line, line.to_bill) for line in lines_to_bill().filter(order=order)]
    sheets = list(papers().filter(order=order).order_by("id"))
    in_hand = deposits_in_hand([order])[order.pk]
    value = order_value(order)
    too_much = -sum((sheet.balance for sheet in sheets if sheet.balance < 0), ZERO)
    asked = ZERO if is_over(order) else money.percent_of(value, order.deposit_percent)
    return OrderMoney(
        order=order,
        currency=sheets[-1].currency if sheets else nursery.currency,
        state=money_states([order])[order.pk],
        to_bill=to_bill,
        to_bill_gross=totals(to_bill, tax_included=nursery.prices_include_tax).gross,
        papers=sheets,
        payments=list(payments().filter(Q(order=order) | Q(invoice__order=order))),
        value=value,
        deposit_asked=asked,
        deposit_received=in_hand + sum((sheet.deposit for sheet in sheets), ZERO),
        deposit_in_hand=in_hand,
        owed=sum((sheet.balance for sheet in sheets if sheet.balance > 0), ZERO),
        to_give_back=too_much + (in_hand if is_over(order) and not to_bill else ZERO),
        may_take_deposit=still_to_bill(order) > in_hand,
    )


def order_value(order: Order) -> Decimal:
    """What the order comes to with tax: as ordered, or as taken for lines that have ended; 0 for our own crop."""
    return ZERO if order.own_crop else _value(_lines(order), Nursery.current())


def _value(lines: Iterable[OrderLine], nursery: Nursery) -> Decimal:
    items = [item(line, expected(line)) for line in lines]
    return totals(items, tax_included=nursery.prices_include_tax).gross


def still_to_bill(order: Order) -> Decimal:
    """What later invoices of the order will come to, with tax, if all goes as ordered."""
    lines = list(with_billed(_lines(order)))
    items = [item(line, max(expected(line) - line.billed, 0)) for line in lines]
    return totals(items, tax_included=Nursery.current().prices_include_tax).gross


def is_over(order: Order) -> bool:
    """No line of the order can still bring plants."""
    return all(line.state in states.ENDED for line in _lines(order))


def _lines(order: Order) -> QuerySet[OrderLine]:
    return order.lines.select_related(*_NAMED)


def deposits_in_hand(orders: Iterable[Order]) -> dict[int, Decimal]:
    """By order: what was paid before a bill, less what was given back and what invoices have counted."""
    keys = [order.pk for order in orders]
    received = Payment.objects.filter(order__in=keys).values_list("order").annotate(sum=Sum(_SIGNED)).order_by()
    counted = Invoice.objects.filter(order__in=keys).values_list("order").annotate(sum=Sum("deposit")).order_by()
    had, used = dict(received), dict(counted)
    return {key: money.amount((had.get(key) or ZERO) - (used.get(key) or ZERO)) for key in keys}


def money_state(order: Order) -> MoneyState:
    """To bill, billed, paid in part or paid; NOTHING before plants are handed over, or when all was credited."""
    return money_states([order])[order.pk]


def money_states(orders: Iterable[Order]) -> dict[int, MoneyState]:
    """money_state of many orders, in two queries."""
    keys = [order.pk for order in orders]
    waiting = set(lines_to_bill().filter(order__in=keys).values_list("order_id", flat=True))
    bills: dict[int, list[Paper]] = {key: [] for key in keys}
    for invoice in invoices().filter(order__in=keys):
        bills[invoice.order_id].append(invoice)
    return {key: MoneyState.TO_BILL if key in waiting else _state_of(bills[key]) for key in keys}


def _state_of(bills: list[Paper]) -> MoneyState:
    if all(invoice.credited == invoice.total > 0 for invoice in bills):
        return MoneyState.NOTHING
    if not any(invoice.balance > 0 for invoice in bills):
        return MoneyState.PAID
    part = any(invoice.paid > 0 or invoice.deposit > 0 for invoice in bills)
    return MoneyState.PAID_IN_PART if part else MoneyState.BILLED


# --- the money page ---------------------------------------------------------------------------------------


def payments() -> QuerySet[Payment]:
    """Payments with what they were for, newest first."""
    return Payment.objects.select_related(
        "invoice__customer", "invoice__order", "order__customer", "corrects", "taken_back_by"
    )


@dataclass(frozen=True, slots=True)
class Deposit:
    """A deposit of one order: asked for and not in yet, or in hand and not needed any more."""

    order: Order
    amount: Decimal


def deposits_to_come() -> list[Deposit]:
    """Deposits asked of confirmed orders that have not come in, or not in full."""
    asking = Order.objects.filter(own_crop=False, deposit_percent__gt=0, lines__state__in=states.PROMISED)
    asking = asking.filter(invoices__isnull=True).select_related("customer").distinct()
    asking = asking.prefetch_related(Prefetch("lines", OrderLine.objects.select_related(*_NAMED)))
    nursery, in_hand = Nursery.current(), deposits_in_hand(asking)
    found = []
    for order in asking:
        missing = money.percent_of(_value(order.lines.all(), nursery), order.deposit_percent) - in_hand[order.pk]
        if missing > 0:
            found.append(Deposit(order, missing))
    return found


def deposits_left_over() -> list[Deposit]:
    """Deposits in hand of orders from which nothing more will be billed."""
    open_lines = OrderLine.objects.exclude(state__in=states.ENDED)
    over = Order.objects.filter(deposits__isnull=False).exclude(lines__in=open_lines).distinct()
    over = over.exclude(pk__in=lines_to_bill().values("order")).select_related("customer")
    in_hand = deposits_in_hand(over)
    return [Deposit(order, in_hand[order.pk]) for order in over if in_hand[order.pk] > 0]


def _sum(rows: QuerySet[Any], group: str, what: Any, field: Any) -> Coalesce:
    """The sum over rows that belong to an outer row; 0 without any."""
    sums = rows.order_by().values(group).annotate(sum=Sum(what)).values("sum")
    return Coalesce(Subquery(sums, output_field=field), Value(0, output_field=field))
