"""Several people at the till at once, each with a database connection of their own."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from uuid import uuid4

TODAY = date(2027, 4, 22)


class StopHalfWay(Exception):
    """What a crash between two statements of a transaction looks like to the database."""


def at_once(work: Callable[[int], object], people: int) -> list[str]:
    """Let so many people do it at the same moment; what stopped each of them, '' if nothing did."""
    from django.db import connections

    ends = [""] * people
    start = threading.Barrier(people)

    def one(n: int) -> None:
        try:
            start.wait(timeout=30)
            work(n)
        except Exception as error:
            ends[n] = f"{type(error).__name__}: {error}"
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one, args=(n,)) for n in range(people)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return ends


def issue_side_by_side(people: int = 2, each: int = 20) -> dict[str, object]:
    """Everyone issues so many invoices; after every fourth they try one more that is cut off half way."""
    from django.db import transaction

    from invoicing import services
    from invoicing.models import Invoice
    from tests.factories import LineFactory, NurseryFactory

    NurseryFactory()
    orders = [[LineFactory(collected=5).order for _order in range(each + each // 4)] for _person in range(people)]

    def work(n: int) -> None:
        for count, order in enumerate(orders[n], start=1):
            try:
                with transaction.atomic():
                    services.issue(order=order, by=None, today=TODAY)
                    if count % 5 == 0:
                        raise StopHalfWay
            except StopHalfWay:
                pass

    ends = at_once(work, people)
    return {"ends": ends, "numbers": sorted(Invoice.objects.values_list("number", flat=True))}


def submit_twice() -> dict[str, object]:
    """Two forms of the same key, and two payments that each pay the whole, all arrive at the same moment."""
    from invoicing import services
    from invoicing.models import Invoice, Payment
    from tests.factories import LineFactory, NurseryFactory

    NurseryFactory()
    line, key = LineFactory(collected=100, unit_price=Decimal(2)), uuid4()
    services.issue(order=LineFactory(collected=1).order, by=None, today=TODAY)  # the year's series has begun
    billed = at_once(
        lambda n: services.issue(order=line.order, quantities={line: 30}, by=None, today=TODAY, key=key), 4
    )
    invoice = Invoice.objects.get(order=line.order)

    def pay(n: int) -> None:
        services.record_payment(invoice=invoice, amount=invoice.total, on=TODAY, by=None, today=TODAY, key=uuid4())

    paid = at_once(pay, 4)
    return {
        "billed": billed,
        "refusals": Counter(end.split(":")[0] for end in paid),
        "payments": Payment.objects.filter(invoice=invoice).count(),
    }


ON_SQLITE = (issue_side_by_side, submit_twice)
