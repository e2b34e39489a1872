"""The pickup notice: a note and a letter that the plants are ready, how many, where, when, and what is missing."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from orders import documents, jobs, letters
from orders.calendar_entry import calendar_entry
from orders.models import Document, Nursery, OrderLine

from .. import bridge
from . import needless
from .lines import Window, named, window_of


@jobs.handler("pickup_notice")
def issue_pickup_notice(payload: dict[str, Any]) -> None:
    """Issue the pickup note of a line and have it sent.

    Payload: line (its pk), quantity (ready to fetch now), short (fewer than ordered), notice (the how-manieth of
    this line), by (a name).
    """
    line = OrderLine.objects.select_related("order__customer", "scion", "rootstock", "container").get(
        pk=payload["line"]
    )
    order = line.order
    if order.customer is None:
        return
    by = payload.get("by", "")
    with letters.in_language_of(order.customer) as nursery:
        today = nursery.today()
        window = window_of(line, bridge.calendar_of(nursery), since=today)
        data = pickup_data(
            line, nursery=nursery, today=today, window=window, quantity=payload["quantity"], short=payload["short"]
        )
        document = documents.issue(
            kind=Document.Kind.PICKUP_NOTE,
            code=f"{order.code}-{line.number}",
            title=_("Pickup note for order %(code)s, line %(line)s") % {"code": order.code, "line": line.number},
            template="pdf/pickup_note.html",
            data=data,
            order=order,
            customer=order.customer,
            by=by,
            cause=payload["cause"],
        )
        entry = _entry(line, nursery, data, window, sequence=payload["notice"])
    notice = letters.queue(
        kind="pickup_ready",
        key=f"pickup_ready:{order.code}-{line.number}:{payload['notice']}",
        customer=order.customer,
        order=order,
        document=document,
        context=data,
        calendar=entry,
        by=by,
    )
    needless.after_notice(notice, line)


def pickup_data(
    line: OrderLine, *, nursery: Nursery, today: date, window: Window, quantity: int, short: int
) -> dict[str, Any]:
    """All that the pickup note and its letter say."""
    return {
        "issued": today,
        "nursery": documents.letterhead(nursery),
        "customer": documents.addressee(line.order.customer),
        "code": line.order.code,
        "line": named(line),
        "quantity": quantity,
        "ordered": line.quantity,
        "short": short,
        "collected": line.collected_quantity,
        "first": window.first,
        "last": window.last,
        "days": window.words(today),
        "hours": nursery.pickup_hours,
        "place": nursery.pickup_place or nursery.address,
    }


def _entry(line: OrderLine, nursery: Nursery, data: dict[str, Any], window: Window, *, sequence: int) -> str:
    """One entry per line: a later notice takes the place of the earlier one in the customer's calendar."""
    words = {"quantity": data["quantity"], "unit": data["line"]["unit"], "what": line.what, "hours": data["hours"]}
    return calendar_entry(
        uid=f"{line.order.submit_key}-{line.number}@graftwright",
        first=window.first,
        days=window.days,
        summary=_("Fetch %(quantity)s %(unit)s of %(what)s") % words,
        description=_("Order %(code)s, line %(line)s. Collection %(hours)s.")
        % {"code": line.order.code, "line": line.number, "hours": data["hours"]},
        location=", ".join(data["place"].splitlines()),
        stamp=timezone.now(),
        sequence=sequence,
    )
