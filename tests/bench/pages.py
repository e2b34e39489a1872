"""What pages take in a nursery of any size: `GRAFTWRIGHT_DATA=folder uv run python -m tests.bench.pages [name …]`.

The folder is one that `tests.bench.large` has filled. Each page is asked for by Django's test client as the
grower, once so that the season is at hand, then `TIMES` times; printed are its processor time, its queries and its
weight. With names, the pages alone whose name holds one of them. After the pages: what a promise, a no with its
ways out, a move and a what-if take, without anything being stored.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from tests.bench.large import NO_ROOM
from tests.bench.table import best_of, machine, said, say, spent, table

if TYPE_CHECKING:
    from orders.models import Order, OrderLine, User

TIMES = 3
YES = 190  # days until a pickup that fits
MOVED_BY = timedelta(days=7)


class Undone(Exception):
    """Takes back what a measured service stored."""


@dataclass(frozen=True)
class Measured:
    """First and best processor time in milliseconds; queries and kilobytes where there are any."""

    name: str
    first: float
    best: float
    queries: int | None = None
    weight: float | None = None

    @property
    def row(self) -> list[object]:
        queries = "–" if self.queries is None else self.queries
        weight = "–" if self.weight is None else f"{self.weight:,.0f}"
        return [self.name, said(self.first), said(self.best), queries, weight]


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    import django

    django.setup()
    from orders.models import Order

    wanted = sys.argv[1:]
    named = [*_pages(), *_services()]
    chosen = [each for each in named if not wanted or any(word in each[0] for word in wanted)]
    say(f"{machine()}; {Order.objects.count():,} orders; processor milliseconds, first and best of {TIMES}\n")
    table(["", "First", "Best", "Queries", "kB"], (measure().row for _name, measure in chosen))


def _pages() -> Iterator[tuple[str, Callable[[], Measured]]]:
    from orders.models import Order

    order = Order.objects.order_by("pk").first()
    assert order is not None
    for name, address in {
        "today": "/",
        "at a glance": "/glance/",
        "season, year": "/season/?view=year",
        "season, weeks": "/season/?view=weeks",
        "season, weeks at the pinch": f"/season/?view=weeks&day={_in(85)}",
        "season, week": f"/season/?view=week&day={_in(90)}",
        "season, day": f"/season/?view=day&day={_in(90)}",
        "charts": "/season/charts/",
        "season sheet": "/season/sheet.pdf",
        "orders": "/orders/",
        "an order": f"/orders/{order.code}/",
        "batches": "/batches/",
        "places tonight": "/places/",
        "standing": "/standing/",
        "day": f"/day/{_in(30)}/",
        "money": "/money/",
        "letters": "/letters/",
    }.items():
        yield name, lambda name=name, address=address: _page(name, address)  # type: ignore[misc]


def _page(name: str, address: str) -> Measured:
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client = Client(headers={"host": "localhost"})
    client.force_login(_grower())
    answers: list[Any] = []

    def ask() -> None:
        answers.append(client.get(address))

    first, best = spent(ask), best_of(TIMES, ask)
    with CaptureQueriesContext(connection) as seen:
        ask()
    assert answers[-1].status_code == 200, (address, answers[-1].status_code)
    return Measured(name, first, best, len(seen), len(answers[-1].content) / 1024)


def _services() -> Iterator[tuple[str, Callable[[], Measured]]]:
    yield "promise of a line", _promise
    yield "… of it inside the lock", _locked
    yield "a no and its ways out", _ways_out
    yield "a look at a move", _move
    yield "what if a place were larger", _what_if


def _promise() -> Measured:
    return _timed("promise of a line", lambda: _accepted())


def _locked() -> Measured:
    """From the moment that the plan is locked to the end of the transaction."""
    from production.services import promise

    held: list[float] = []
    lock = promise.lock_the_plan

    def locked() -> Any:
        nursery = lock()
        held.append(time.process_time())
        return nursery

    promise.lock_the_plan = locked
    times = []
    try:
        for _ in range(TIMES + 1):
            _accepted()
            times.append((time.process_time() - held[-1]) * 1000)
    finally:
        promise.lock_the_plan = lock
    return Measured("… of it inside the lock", times[0], min(times[1:]))


def _accepted() -> None:
    from production.services import promise

    with _undone():
        order = _order(YES)
        promise.accept(order=order, by=_grower(), today=_today())


def _ways_out() -> Measured:
    from orders.models import Nursery
    from production import at_hand
    from production.services import answering

    def ask() -> None:
        season = at_hand.season_of(_today())
        answers = answering.what_if([_line(NO_ROOM)], today=_today(), season=season)
        assert not answers[0].fits
        answering.ways_out(answers, season=season, nursery=Nursery.current())

    return _timed("a no and its ways out", ask)


def _move() -> Measured:
    from orders import queries
    from production.services import moving

    line = queries.lines().filter(state="confirmed", order__own_crop=False).order_by("-pickup").first()
    assert line is not None
    pieces = [(line.quantity, _open(line.pickup + MOVED_BY))]
    return _timed("a look at a move", lambda: moving.look_at_move(line=line, pieces=pieces, today=_today()))


def _what_if() -> Measured:
    from production.models import Place
    from production.services import what_if

    place = Place.objects.get(name="Healing chamber")
    changes = what_if.Changes(place=place, capacity=place.capacity + 50)
    return _timed("what if a place were larger", lambda: what_if.look(changes, today=_today()))


def _timed(name: str, work: Callable[[], object]) -> Measured:
    return Measured(name, spent(work), best_of(TIMES, work))


# --- what is asked for -----------------------------------------------------------------------------------------


def _today() -> date:
    from orders.models import Nursery

    return Nursery.current().today()


def _grower() -> User:
    from orders.models import User

    return User.objects.get(username="grower")


def _in(days: int) -> date:
    return _open(_today() + timedelta(days=days))


def _open(day: date) -> date:
    return day + timedelta(days=day.weekday() == 6)


def _line(pickup: int) -> OrderLine:
    from orders.models import Container, OrderLine, Variety

    return OrderLine(
        scion=Variety.objects.select_related("crop").get(name="Tallis Red"),
        rootstock=Variety.objects.select_related("crop").get(name="Kelder"),
        container=Container.objects.filter(kind=Container.Kind.POT_TRAY).first(),
        quantity=30,
        pickup_asked=_in(pickup),
        earlier=0,
        later=0,
    )


def _order(pickup: int) -> Order:
    from orders import services
    from orders.models import Customer

    customer = Customer.objects.order_by("pk").first()
    return services.take_order(customer=customer, lines=[_line(pickup)], by=_grower(), today=_today())


@contextmanager
def _undone() -> Iterator[None]:
    from django.db import transaction

    try:
        with transaction.atomic():
            yield
            raise Undone
    except Undone:
        pass


if __name__ == "__main__":
    main()
