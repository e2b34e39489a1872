"""Promises held, confirmed, accepted and let go at once, each by somebody with a connection of their own."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from .issuers import at_once
from .joiners import THURSDAY

ROUNDS = 6


def hold_the_last_tray() -> dict[str, object]:
    """Two orders of which the chamber holds one; two clerks hold them at the same moment."""
    from django.db.models import F

    from orders.models import OrderLine
    from production.models import Part, Protocol, ProtocolStage
    from production.services import holding
    from tests.nursery import TODAY, working_nursery

    working = working_nursery(healing=2)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=3)
    orders = [_asked(working, quantity=100, pickup_asked=THURSDAY, later=0) for _clerk in range(2)]
    ends = at_once(lambda clerk: holding.hold(order=orders[clerk], by=None, today=TODAY), 2)
    return {
        "ends": sorted(end.partition(":")[0] for end in ends),
        "states": sorted(OrderLine.objects.values_list("state", flat=True)),
        "parts": Part.objects.count(),
    }


def lapse_and_confirm() -> list[dict[str, object]]:
    """The days are over, and in the moment in which the promise lets go somebody confirms it."""
    from production.models import Allocation
    from production.services import holding, promise
    from tests.nursery import TODAY, working_nursery

    working = working_nursery(healing=40, bench=400)
    after = TODAY + timedelta(days=4)
    found = []
    for _round in range(ROUNDS):
        order = _held(working)
        acts: list[Callable[[], object]] = [
            lambda: holding.lapse(after),
            lambda order=order: promise.accept(order=order, by=None, today=after),  # type: ignore[misc]
        ]
        ends = at_once(lambda person, acts=acts: acts[person](), 2)
        line = order.lines.get()
        found.append({"ends": ends, "state": line.state, "room": Allocation.objects.filter(line=line).exists()})
    return found


def accept_twice() -> dict[str, object]:
    """The customer presses the button, and presses it again, and again."""
    from orders import history
    from orders.holding import ACCEPTED, fingerprint
    from orders.models import Job
    from production.services import holding
    from tests.nursery import TODAY, working_nursery

    order = _held(working_nursery())
    seen = fingerprint(order.lines.all())
    ends = at_once(
        lambda _click: holding.accept_by_customer(order=order, name="Mara Quill", seen=seen, today=TODAY), 4
    )
    return {
        "ends": ends,
        "state": order.lines.get().state,
        "accepted": history.of(order).filter(what=ACCEPTED).count(),
        "papers": Job.objects.filter(kind="confirmation").count(),
    }


def accept_and_let_go() -> list[dict[str, object]]:
    """The customer says yes by the link, and at that moment the grower lets go of the line on the order's page."""
    from orders import services
    from orders.holding import fingerprint
    from production.models import Allocation
    from production.services import holding
    from tests.nursery import TODAY, working_nursery

    working, found = working_nursery(healing=40, bench=400), []
    for _round in range(ROUNDS):
        order = _held(working)
        line, seen = order.lines.get(), fingerprint(order.lines.all())
        acts: list[Callable[[], object]] = [
            lambda order=order, seen=seen: holding.accept_by_customer(  # type: ignore[misc]
                order=order, name="Mara Quill", seen=seen, today=TODAY
            ),
            lambda line=line: services.end(line=line, by=None, why="Sold twice"),  # type: ignore[misc]
        ]
        ends = at_once(lambda person, acts=acts: acts[person](), 2)
        line.refresh_from_db()
        found.append({"ends": ends, "state": line.state, "room": Allocation.objects.filter(line=line).exists()})
    return found


def _asked(working: Any, **changes: object) -> Any:
    from orders.services import take_order
    from tests.factories import CustomerFactory
    from tests.nursery import TODAY

    return take_order(customer=CustomerFactory(), lines=[working.line(**changes)], by=None, today=TODAY)


def _held(working: Any) -> Any:
    from production.services import holding
    from tests.nursery import TODAY

    order = _asked(working, quantity=20)
    holding.hold(order=order, by=None, today=TODAY)
    return order


ON_SQLITE = (hold_the_last_tray, lapse_and_confirm, accept_twice)
