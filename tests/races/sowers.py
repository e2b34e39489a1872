"""What is promised is sown, and cancelled or moved at the same moment, each with a database connection of their
own. On PostgreSQL, whose rows are locked one by one: SQLite has one writer at a time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from .issuers import at_once
from .joiners import THURSDAY

ROUNDS = 3


def sow_while(act: Callable[[Any], object]) -> list[dict[str, object]]:
    """Somebody records that a batch is sown, and at that moment another does this with its line."""
    from production.models import Part, Work
    from production.services import growing
    from tests.nursery import TODAY

    working, found = _with_seed(), []
    for _round in range(ROUNDS):
        line = _promised(working)
        sowing = Work.objects.get(part__allocations__line=line, kind="sow", subject="rootstock")
        acts = (
            lambda work=sowing: growing.do_work(work=work, by=None, today=TODAY, count=90),
            lambda line=line: act(line),
        )
        ends = at_once(lambda person, acts=acts: acts[person](), 2)  # type: ignore[misc]
        line.refresh_from_db()
        parts = Part.objects.filter(allocations__line=line).values_list("state", flat=True)
        found.append({"ends": [end.partition(":")[0] for end in ends], "state": line.state, "parts": list(parts)})
    return found


def cancel(line: Any) -> None:
    from orders import services

    services.cancel(line=line, by=None, why="The glasshouse blew away")


def move(line: Any) -> None:
    from production.services import moving
    from tests.nursery import TODAY

    moving.move(line=line, pieces=[(line.quantity, THURSDAY + timedelta(weeks=1))], by=None, today=TODAY)


def _with_seed() -> Any:
    from production.models import SeedLot
    from tests.nursery import TODAY, working_nursery

    working = working_nursery(healing=40, bench=400)
    for number, variety in enumerate((working.scion, working.rootstock)):
        SeedLot.objects.create(code=f"L{number}", variety=variety, seeds=10_000, received_on=TODAY)
    return working


def _promised(working: Any) -> Any:
    from orders.services import take_order
    from production.services import promise
    from tests.factories import CustomerFactory
    from tests.nursery import TODAY

    line = working.line(quantity=40, pickup_asked=THURSDAY)
    order = take_order(customer=CustomerFactory(), lines=[line], by=None, today=TODAY)
    promise.accept(order=order, by=None, today=TODAY)
    return order.lines.get()
