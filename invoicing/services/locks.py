"""Rows are locked in one order, so that nobody waits in a circle: the order, its invoice, the number series."""

from __future__ import annotations

from orders.models import Order

from ..models import Invoice


def order(found: Order) -> Order:
    """The order's row, fresh and locked until the transaction ends."""
    return Order.objects.select_for_update(of=("self",)).select_related("customer").get(pk=found.pk)


def invoice(found: Invoice) -> Invoice:
    """The invoice's row, locked through its order's, so that all about one order's money happens one by one."""
    order(found.order)
    return Invoice.objects.select_related("order", "customer").get(pk=found.pk)
