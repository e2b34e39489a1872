"""Two clerks let a line into the same batch at once, each with a database connection of their own."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from .issuers import at_once

THURSDAY = date(2027, 4, 22)


def join_side_by_side() -> dict[str, object]:
    """Both lines are of 65 plants; with one of them the chamber of three trays is full."""
    from production.services import joining, promise
    from tests.nursery import TODAY

    lines, part = _two_lines_and_a_batch()

    def join(person: int) -> None:
        promise.accept(order=lines[person].order, by=None, today=TODAY, joining=[joining.named(part.batch.code)])

    return _what_happened(at_once(join, 2))


def join_while_it_is_sown() -> dict[str, object]:
    """One joins a batch, and at that moment somebody records that its rootstock is sown."""
    from production.models import Work
    from production.services import growing, joining, promise
    from tests.nursery import TODAY

    lines, part = _two_lines_and_a_batch()
    sowing = Work.objects.get(part=part, kind="sow", subject="rootstock")
    acts: list[Callable[[], object]] = [
        lambda: promise.accept(
            order=lines[0].order, by=None, today=TODAY, joining=[joining.named(part.batch.code)]
        ),
        lambda: growing.do_work(work=sowing, by=None, today=TODAY, count=90),
    ]
    found = _what_happened(at_once(lambda person: acts[person](), 2))
    return found | {"sown": sum(each.sown_on is not None for each in part.sowings.all())}


def _two_lines_and_a_batch():
    from django.db.models import F

    from orders.services import take_order
    from production.models import Part, Protocol, ProtocolStage, SeedLot
    from production.services import promise
    from tests.factories import CustomerFactory
    from tests.nursery import TODAY, working_nursery

    working = working_nursery(healing=3)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=3)
    for number, variety in enumerate((working.scion, working.rootstock)):
        SeedLot.objects.create(code=f"L{number}", variety=variety, seeds=1000, received_on=TODAY)
    lines = []
    for _line in range(3):
        line = working.line(quantity=65, pickup_asked=THURSDAY, later=0)
        order = take_order(customer=CustomerFactory(), lines=[line], by=None, today=TODAY)
        lines.append(order.lines.get())
    promise.accept(order=lines[0].order, by=None, today=TODAY)
    return lines[1:], Part.objects.select_related("batch").get()


def _what_happened(ends: list[str]) -> dict[str, object]:
    from orders.models import OrderLine
    from production.models import Part

    part = Part.objects.get()
    return {
        "ends": sorted(end.partition(":")[0] for end in ends),
        "plants": part.plants,
        "allocated": sum(part.allocations.values_list("quantity", flat=True)),
        "promised": OrderLine.objects.exclude(state="asked").count(),
        "on_it": part.allocations.count(),
    }


ON_SQLITE = (join_side_by_side,)
