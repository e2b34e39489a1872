"""Short words for the tests of the bill."""

from datetime import date
from decimal import Decimal

from invoicing import services
from tests.factories import LineFactory, OrderFactory

TODAY = date(2027, 4, 22)


def taken(*lines, **order):
    """An order whose lines were handed over: (plants, price) or (plants, price, tax rate) for each."""
    made = OrderFactory(**order)
    for plants, price, *rate in lines:
        LineFactory(
            order=made,
            quantity=max(plants, 1),
            collected=plants,
            unit_price=Decimal(price),
            tax_rate=Decimal(rate[0] if rate else "7"),
        )
    return made


def billed(*lines, by=None, today=TODAY, **order):
    return services.issue(order=taken(*lines, **order), by=by, today=today)


def pay(invoice, amount, *, today=TODAY, by=None, **more):
    return services.record_payment(invoice=invoice, amount=Decimal(amount), on=today, by=by, today=today, **more)


def deposit(order, amount, *, today=TODAY, by=None, **more):
    return services.record_payment(order=order, amount=Decimal(amount), on=today, by=by, today=today, **more)
