"""Reads of deposits: asked for, in hand, left over."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch, Sum

from orders import money, states
from orders.models import Nursery, Order, OrderLine

from ..items import value
from ..models import Invoice, Payment
from .amounts import SIGNED, ZERO
from .unbilled import NAMED, lines_to_bill


def deposits_in_hand(orders: Iterable[Order]) -> dict[int, Decimal]:
    """By order: what was paid before a bill, less what was given back and what invoices have counted."""
    keys = [order.pk for order in orders]
    received = Payment.objects.filter(order__in=keys).values_list("order").annotate(sum=Sum(SIGNED)).order_by()
    counted = Invoice.objects.filter(order__in=keys).values_list("order").annotate(sum=Sum("deposit")).order_by()
    had, used = dict(received), dict(counted)
    return {key: money.amount((had.get(key) or ZERO) - (used.get(key) or ZERO)) for key in keys}


@dataclass(frozen=True, slots=True)
class Deposit:
    """A deposit of one order: asked for and not in yet, or in hand and not needed any more."""

    order: Order
    amount: Decimal


def deposits_to_come() -> list[Deposit]:
    """Deposits asked of confirmed orders that have not come in, or not in full."""
    asking = Order.objects.filter(own_crop=False, deposit_percent__gt=0, lines__state__in=states.PROMISED)
    asking = asking.filter(invoices__isnull=True).select_related("customer").distinct()
    asking = asking.prefetch_related(Prefetch("lines", OrderLine.objects.select_related(*NAMED)))
    nursery, in_hand = Nursery.current(), deposits_in_hand(asking)
    found = []
    for order in asking:
        missing = money.percent_of(value(order.lines.all(), nursery), order.deposit_percent) - in_hand[order.pk]
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
