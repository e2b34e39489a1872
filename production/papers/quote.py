"""The quote: what we hold for a customer, until when, at which price; sent with the private link to say yes by."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from orders import documents, jobs, letters, states
from orders.links import private_link
from orders.models import Document, Nursery, Order
from orders.queries import orders

from .confirmation import paper_data


@jobs.handler("quote")
def issue_quote(payload: dict[str, Any]) -> None:
    """Issue the quote of what is held now and have it sent. Payload: order (its pk), by (a name)."""
    order = orders().get(pk=payload["order"])
    if order.customer is None:  # our own crop gets no letters
        return
    by = payload.get("by", "")
    with letters.in_language_of(order.customer) as nursery:
        data = quote_data(order, nursery=nursery, today=nursery.today())
        if not data["lines"]:
            return  # confirmed or let go before the paper was made
        document = documents.issue(
            kind=Document.Kind.QUOTE,
            code=order.code,
            title=_("Quote for order %(code)s") % {"code": order.code},
            template="pdf/quote.html",
            data=data,
            order=order,
            customer=order.customer,
            by=by,
            cause=payload["cause"],
        )
    letters.queue(
        kind="quote",
        key=f"quote:{order.code}:{document.revision}",
        customer=order.customer,
        order=order,
        document=document,
        context=data | {"revision": document.revision, "link": private_link(order)},
        by=by,
    )


def quote_data(order: Order, *, nursery: Nursery, today: date) -> dict[str, Any]:
    """All that the quote says: the lines that are held, and the first day on which one of them ends."""
    held = [line for line in order.lines.all() if line.state == states.HELD]
    data = paper_data(order, held, counting={states.HELD}, nursery=nursery, today=today)
    return data | {"until": min((line.hold_until for line in held if line.hold_until), default=today)}
