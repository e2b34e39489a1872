"""Reads of deposits: asked for, in hand, left over."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from operator import attrgetter

from django.db.models import Exists, F, OuterRef, Sum
from django.db.models.functions import Round

from orders import money, states
from orders.models import Nursery, Order, OrderLine

from ..items import PRICED, value
from ..models import Invoice, Payment
from .amounts import AMOUNT, SIGNED, ZERO, summed
from .in_short import InShort
from .unbilled import lines_to_bill


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


def deposits_to_come() -> InShort[tuple[int, Decimal], Deposit]:
    """Deposits asked of confirmed orders that have not come in, or not in full; newest orders first."""
    promised = OrderLine.objects.filter(order=OuterRef("pk"), state__in=states.PROMISED)
    asking = Order.objects.filter(Exists(promised), own_crop=False, deposit_percent__gt=0, invoices__isnull=True)
    lines = OrderLine.objects.filter(order__in=asking.order_by().values("pk")).order_by("-order_id", "number")
    rows = lines.values_list("order_id", "order__deposit_percent", *PRICED, named=True)
    payments = Payment.objects.filter(order__in=asking.order_by().values("pk"))
    received = dict(payments.order_by().values_list("order").annotate(sum=Sum(SIGNED)))
    tax_included = Nursery.current().prices_include_tax
    missing = []
    for order, of_order in groupby(rows, key=attrgetter("order_id")):
        first, *others = of_order
        whole = value([first, *others], tax_included=tax_included)
        amount = money.percent_of(whole, first.order__deposit_percent) - (received.get(order) or ZERO)
        if amount > 0:
            missing.append((order, amount))
    return InShort(missing, _deposits)


def deposits_left_over() -> InShort[tuple[int, Decimal], Deposit]:
    """Deposits in hand of orders from which nothing more will be billed; newest orders first."""
    to_come = OrderLine.objects.filter(order=OuterRef("pk")).exclude(state__in=states.ENDED)
    received = summed(Payment.objects.filter(order=OuterRef("pk")), "order", SIGNED, AMOUNT)
    counted = summed(Invoice.objects.filter(order=OuterRef("pk")), "order", F("deposit"), AMOUNT)
    in_hand = Order.objects.annotate(in_hand=Round(received - counted, 2, output_field=AMOUNT))
    over = in_hand.filter(~Exists(to_come), deposits__isnull=False, in_hand__gt=ZERO).distinct()
    left = over.exclude(pk__in=lines_to_bill().order_by().values("order")).values_list("pk", "in_hand")
    return InShort(list(left), _deposits)


def _deposits(amounts: list[tuple[int, Decimal]]) -> list[Deposit]:
    orders = Order.objects.select_related("customer").in_bulk([key for key, _amount in amounts])
    return [Deposit(orders[key], amount) for key, amount in amounts if key in orders]
