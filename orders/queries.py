"""Reads of the order file."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, Min, Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from . import states
from .models import Customer, Order, OrderLine, Variety
from .near import meant_words


def orders() -> QuerySet[Order]:
    """Orders with all that a list of them shows."""
    own = OrderLine.objects.select_related("scion__crop", "rootstock__crop", "container")
    return Order.objects.select_related("customer").prefetch_related(Prefetch("lines", queryset=own))


def lines() -> QuerySet[OrderLine]:
    """Order lines with all that planning and showing one needs."""
    return OrderLine.objects.select_related("order__customer", "scion__crop", "rootstock__crop", "container")


def find_orders(*, words: str = "", state: str = "") -> QuerySet[Order]:
    """Orders whose code, customer or varieties contain the words, and of which a line is in `state`."""
    found = orders().annotate(next_pickup=Min("lines__pickup_asked"))
    for word in order_words(words):
        found = found.filter(
            Q(code__iexact=word)
            | Q(customer__name__icontains=word)
            | Q(lines__scion__name__icontains=word)
            | Q(lines__rootstock__name__icontains=word)
        )
    if state:
        found = found.filter(lines__state=state)
    return found.distinct().order_by("-id")  # counting over lines loses the order of the table


def order_words(text: str) -> list[str]:
    """The words to look for; who writes 'Order 27' means the order with the code 27."""
    called = (_("Order %(code)s") % {"code": ""}).strip().casefold()
    words = text.split()
    return [word for word in words if word.casefold() != called] or words


def state_counts() -> dict[str, int]:
    """How many lines are in each state."""
    rows = OrderLine.objects.values_list("state").annotate(n=Count("id")).order_by()
    return {state: dict(rows).get(state, 0) for state in states.STATES}


def customers_like(words: str, most: int = 8) -> QuerySet[Customer]:
    return Customer.objects.filter(name__icontains=words.strip())[:most]


def varieties_for(role: str) -> QuerySet[Variety]:
    """Varieties in use that may be a scion or a rootstock."""
    return Variety.objects.filter(active=True, role__in=(role, Variety.Role.BOTH)).select_related("crop")


def variety_meant(name: str, *, side: str) -> str:
    """'Did you mean Tallis Red? ' of a name that is not known as it is written; '' where none in use is near."""
    role = Variety.Role.SCION if side == "scion" else Variety.Role.ROOTSTOCK
    return meant_words(name, varieties_for(role).values_list("name", flat=True))


def order_by_code(code: str) -> Order:
    """One order with its lines; raises Order.DoesNotExist."""
    return orders().get(code=code)


def summary(order: Order) -> dict[str, Any]:
    """Totals of one order over the lines that count."""
    counting = [line for line in order.lines.all() if line.state not in (states.LET_GO, states.CANCELLED)]
    return {
        "plants": sum(line.quantity for line in counting if line.kind != OrderLine.Kind.ROOM),
        "ready": sum(line.ready_quantity for line in counting),
        "collected": sum(line.collected_quantity for line in counting),
    }
