"""Reads of how the money of an order stands."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from orders import money, states
from orders.models import Nursery, Order, OrderLine

from ..items import Item, expected, item, totals, value
from ..models import Payment
from .amounts import ZERO
from .deposits import deposits_in_hand
from .issued import invoices, papers, payments
from .unbilled import NAMED, lines_to_bill, with_billed

if TYPE_CHECKING:
    from .issued import Paper


class MoneyState(models.TextChoices):
    """What an order says of its money; '' before anything is to bill."""

    NOTHING = "", ""
    TO_BILL = "to_bill", _("to bill")
    BILLED = "billed", _("billed")
    PAID_IN_PART = "paid_in_part", _("paid in part")
    PAID = "paid", _("paid")


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
    deposit_asked: Decimal  # or to be asked, as long as nothing of the order is promised
    deposit_to_ask: bool  # the confirmation, which asks for it, is still to come
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
    whole = order_value(order)
    too_much = -sum((sheet.balance for sheet in sheets if sheet.balance < 0), ZERO)
    asked = ZERO if is_over(order) else money.percent_of(whole, order.deposit_percent)
    return OrderMoney(
        order=order,
        currency=sheets[-1].currency if sheets else nursery.currency,
        state=money_states([order])[order.pk],
        to_bill=to_bill,
        to_bill_gross=totals(to_bill, tax_included=nursery.prices_include_tax).gross,
        papers=sheets,
        payments=list(payments().filter(Q(order=order) | Q(invoice__order=order))),
        value=whole,
        deposit_asked=asked,
        deposit_to_ask=bool(asked) and not any(line.state in states.ONCE_PROMISED for line in _lines(order)),
        deposit_received=in_hand + sum((sheet.deposit for sheet in sheets), ZERO),
        deposit_in_hand=in_hand,
        owed=sum((sheet.balance for sheet in sheets if sheet.balance > 0), ZERO),
        to_give_back=too_much + (in_hand if is_over(order) and not to_bill else ZERO),
        may_take_deposit=still_to_bill(order) > in_hand,
    )


def order_value(order: Order) -> Decimal:
    """What the order comes to with tax: as ordered, or as taken for lines that have ended; 0 for our own crop."""
    if order.own_crop:
        return ZERO
    return value(_lines(order), tax_included=Nursery.current().prices_include_tax)


def still_to_bill(order: Order) -> Decimal:
    """What later invoices of the order will come to, with tax, if all goes as ordered."""
    lines = list(with_billed(_lines(order)))
    items = [item(line, max(expected(line) - line.billed, 0)) for line in lines]
    return totals(items, tax_included=Nursery.current().prices_include_tax).gross


def is_over(order: Order) -> bool:
    """No line of the order can still bring plants."""
    return all(line.state in states.ENDED for line in _lines(order))


def _lines(order: Order) -> QuerySet[OrderLine]:
    return order.lines.select_related(*NAMED)


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
