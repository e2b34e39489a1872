"""The process of an embedded nursery, killed (SIGKILL) in the middle of its work and started again.

Each process is a fork that drains the jobs as the serving one does, or that answers one request.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

ORDERS = 5
LONGEST = 60.0  # seconds to wait for what a process is to come to


def process(work: Callable[[], object]) -> int:
    """Its id. It shares no connection with this one, and leaves without a word."""
    from django.db import connections

    connections.close_all()
    child = os.fork()
    if child == 0:
        try:
            work()
        finally:
            os._exit(0)
    return child


def kill(child: int) -> None:
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)


def killed_when(seen: Callable[[], bool]) -> None:
    """Start a process that drains the jobs, wait for what is to be seen in the database, and kill it."""
    from orders import jobs

    child = process(lambda: jobs.run_forever(threading.Event()))
    try:
        wait_for(seen)
    finally:
        kill(child)


def wait_for(seen: Callable[[], bool]) -> None:
    deadline = time.monotonic() + LONGEST
    while not seen():
        if time.monotonic() > deadline:
            raise TimeoutError
        time.sleep(0.005)


def while_a_list_is_taken() -> dict[str, object]:
    from orders.models import Order
    from production.services import list_taking

    kept = bring_a_list()
    killed_when(lambda: is_now(kept, "checked"))
    list_taking.confirm(kept, by=None)
    for many in (1, 3):
        killed_when(lambda many=many: Order.objects.count() >= many)
    killed_when(lambda: is_now(kept, "taken"))
    return left_of(kept)


def bring_a_list() -> Any:
    from production.services import order_lists
    from tests.nursery import working_nursery
    from tests.production.order_lists import csv_text, row

    working = working_nursery(healing=40, bench=400)
    rows = [row(working, n, Pickup=_pickup(working), Days_later=14) for n in range(1, ORDERS + 1)]
    return order_lists.start(name="list.csv", content=csv_text(rows).encode(), by=None)


def is_now(kept: Any, state: str) -> bool:
    kept.refresh_from_db()
    return bool(kept.state == state)


def left_of(kept: Any) -> dict[str, object]:
    """What became of a list and of its orders."""
    from django.db.models import Count

    from orders.models import Job, Order, OrderLine
    from production.models import Batch

    kept.refresh_from_db()
    named = sorted(order["order"] for order in kept.orders)
    return {
        "states": sorted({order["state"] for order in kept.orders}),
        "named": named == sorted(Order.objects.values_list("code", flat=True)),
        "orders": Order.objects.count(),
        "lines": list(OrderLine.objects.values_list("state").annotate(n=Count("pk")).order_by()),
        "batches": Batch.objects.count(),
        "papers": Job.objects.filter(kind="confirmation").count(),
    }


def while_moves_are_taken() -> dict[str, object]:
    """Levelled by a second process after the first was killed; then the moves, killed a little later each time."""
    from orders.models import Job, OrderLine
    from production.models import Allocation, Part, SeasonLevelling
    from production.services import levelling, promise
    from tests.nursery import working_nursery

    working = working_nursery(healing=2)
    _rigid()
    today, day = working.nursery.today(), _pickup(working)
    first = _asked(working, day, later=21)
    promise.accept(order=first.order, by=None, today=today)
    first.refresh_from_db()
    second = _asked(working, first.pickup, later=0)
    papers = Job.objects.filter(kind="confirmation")
    before = papers.count()
    run = levelling.start(by=None, today=today)
    run_is = SeasonLevelling.objects.filter(pk=run.pk)
    killed_when(lambda: run_is.filter(state="running").exists())
    killed_when(lambda: run_is.filter(state="done").exists())
    run.refresh_from_db()

    def take() -> None:
        levelling.take(run, keys=[f"line:{second.pk}"], by=None, today=today)

    seen: list[Any] = []
    for later in range(1, 60):
        child = process(take)
        time.sleep(later / 15)
        kill(child)
        run.refresh_from_db()
        lines = OrderLine.objects.order_by("pk")
        seen.append(
            [
                sorted({row["taken"] for row in run.moves}),
                [line.state for line in lines],
                [line.pickup == first.pickup for line in lines],
                [Allocation.objects.filter(line=line).count() for line in lines],
                Part.objects.count(),
                papers.count() - before,
            ]
        )
        if seen[-1][0] == [True]:
            break
    return {"moves": len(run.moves), "seen": [each for n, each in enumerate(seen) if each not in seen[:n]]}


def _pickup(working: Any) -> date:
    """A Thursday some months ahead of the real today: these processes have no other clock."""
    ahead: date = working.nursery.today() + timedelta(days=120)
    return ahead + timedelta(days=(3 - ahead.weekday()) % 7)


def _asked(working: Any, day: date, later: int) -> Any:
    from orders.services import take_order
    from tests.factories import CustomerFactory

    line = working.line(quantity=80, pickup_asked=day, later=later)
    order = take_order(customer=CustomerFactory(), lines=[line], by=None, today=working.nursery.today())
    return order.lines.get()


def _rigid() -> None:
    from django.db.models import F

    from production.models import Protocol, ProtocolStage

    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=1)


ON_SQLITE = (while_a_list_is_taken, while_moves_are_taken)
