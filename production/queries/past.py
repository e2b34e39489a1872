"""What was ordered before, to be asked for again: combinations as one types, and a customer's earlier orders."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Max, Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from orders import states
from orders.models import Customer, Nursery, Order, OrderLine

A_SEASON = timedelta(weeks=13)
A_YEAR = timedelta(weeks=52)  # of whole weeks: a Wednesday stays a Wednesday
GIVEN_UP = (states.LET_GO, states.CANCELLED)


def combinations(words: str, customer: str = "", most: int = 6) -> list[str]:
    """Combinations ordered before that hold all these words, this customer's first, then the latest."""
    found = OrderLine.objects.filter(kind=OrderLine.Kind.GRAFTED, scion__active=True, rootstock__active=True)
    for word in words.split():
        found = found.filter(Q(scion__name__icontains=word) | Q(rootstock__name__icontains=word))
    rows = (
        found.values_list("scion__name", "rootstock__name")
        .annotate(
            theirs=Count("pk", filter=Q(order__customer__name__iexact=customer.strip() or None)), last=Max("pk")
        )
        .order_by("-theirs", "-last")
    )
    return [named(scion, rootstock) for scion, rootstock, _theirs, _last in rows[:most]]


def named(scion: str, rootstock: str) -> str:
    return _("%(scion)s on %(rootstock)s") % {"scion": scion, "rootstock": rootstock}


def line_named(words: str, customer: str = "") -> OrderLine | None:
    """The latest line of the combination that these words name in full, this customer's before any other's."""
    for scion, rootstock in _readings(words):
        lines = OrderLine.objects.filter(
            kind=OrderLine.Kind.GRAFTED, scion__name__iexact=scion, rootstock__name__iexact=rootstock
        ).select_related("scion", "rootstock")
        theirs = lines.filter(order__customer__name__iexact=customer.strip()) if customer.strip() else lines
        found = theirs.order_by("-pk").first() or lines.order_by("-pk").first()
        if found:
            return found
    return None


def _readings(words: str) -> Iterator[tuple[str, str]]:
    """'Red on Old' as scion and rootstock; a name may hold the word between them as well."""
    between = named("\0", "\0").strip("\0")
    pieces = " ".join(words.split()).split(between)
    for cut in range(1, len(pieces)):
        yield between.join(pieces[:cut]), between.join(pieces[cut:])


# --- a customer's earlier orders -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Earlier:
    """An order of a customer that can be asked for again, as it would be now."""

    order: Order
    lines: tuple[OrderLine, ...]
    last_year: bool  # picked up a season ago and more: whoever calls now may want it for the next one

    @property
    def pickup(self) -> date:
        return min(line.pickup_asked for line in self.lines)


def earlier_orders(customer: Customer, today: date, most: int = 3) -> list[Earlier]:
    """Those of last year first, whose turn comes again next, then the latest; nothing that was given up."""
    orders: QuerySet[Order] = (
        Order.objects.filter(customer=customer, lines__state__in=set(states.STATES) - set(GIVEN_UP))
        .annotate(last=Max("lines__pickup_asked"))
        .prefetch_related(Prefetch("lines", OrderLine.objects.select_related("scion", "rootstock", "container")))
        .order_by("-last", "-pk")[: 4 * most]
    )
    found = [_earlier(order, today) for order in orders]
    last_year = sorted((each for each in found if each.last_year), key=lambda each: each.pickup)
    return [*last_year, *(each for each in found if not each.last_year)][:most]


def earlier_order(code: str, today: date) -> Earlier | None:
    """The order of that code, if it can be asked for again."""
    order = Order.objects.filter(code=code, customer__isnull=False).first()
    found = _earlier(order, today) if order else None
    return found if found and found.lines else None


def _earlier(order: Order, today: date) -> Earlier:
    lines = tuple(line for line in order.lines.all() if line.state not in GIVEN_UP)
    last = max((line.pickup_asked for line in lines), default=today)
    return Earlier(order, lines, last_year=today - A_YEAR < last <= today - A_SEASON)


def asked_again(line: OrderLine, today: date, nursery: Nursery) -> dict[str, Any]:
    """What stands in the desk's form for the same once more, whole years of 52 weeks later and on an open day."""
    return {
        "kind": line.kind,
        "quantity": line.quantity,
        "scion": line.scion.name if line.scion else "",
        "rootstock": line.rootstock.name if line.rootstock else "",
        "pickup": _again(line.pickup_asked, today, nursery).isoformat(),
        "collection_days": line.collection_days,
        "scion_seed": line.scion_seed,
        "rootstock_seed": line.rootstock_seed,
        "room_place_kind": line.room_place_kind,
        "room_nights": line.room_nights or "",
        "earlier": line.earlier,
        "later": line.later,
        **manner(line),
    }


def manner(line: OrderLine) -> dict[str, Any]:
    """How a line was grafted and in what it stood: what goes with a combination."""
    return {"method": line.method, "leaders": line.leaders, "container": line.container_id}


def _again(day: date, today: date, nursery: Nursery) -> date:
    while day <= today:
        day += A_YEAR
    while nursery.open_weekdays and day.weekday() not in nursery.open_weekdays:
        day += timedelta(days=1)
    return day
