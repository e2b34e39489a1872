"""Sending a quote for what is held, with the private link by which the customer can accept it."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from orders import history, states
from orders.holding import quote_key, refuse_unless_held
from orders.jobs import enqueue
from orders.models import Job, Order, User
from orders.refusals import Refused


def send_quote(*, order: Order, by: User) -> bool:
    """Have the quote made and sent; False if just this one was made before. Other days are a new revision."""
    if order.own_crop:
        raise Refused(_("Our own crop gets no quote."))
    with transaction.atomic():
        held = list(order.lines.select_related("scion", "rootstock").filter(state=states.HELD).order_by("number"))
        refuse_unless_held(held)
        key = quote_key(order, held)
        if Job.objects.filter(key=key).exists():
            return False
        enqueue("quote", key, {"order": order.pk, "by": by.shown_name})
        history.record(by=by, what="quote asked", subject=order, text=_("A quote is to be sent"))
    return True
