"""The customer's private link to one order: no account, only its token, which the grower may replace."""

from __future__ import annotations

from datetime import date, timedelta

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from . import history, states
from .models import Order

KEPT = 90  # days after an order's end for which its link still opens


def private_link(order: Order) -> str:
    """The whole address, as it stands in a letter."""
    return str(settings.SITE_URL).rstrip("/") + reverse("customer_order", args=[order.token])


def is_open(order: Order, *, today: date) -> bool:
    """Whether the link still leads anywhere: until some weeks after the last that happened to an ended order."""
    if order.own_crop:
        return False
    if any(line.state not in states.ENDED for line in order.lines.all()):
        return True
    newest = history.of(order).values_list("at", flat=True).first()
    return newest is None or timezone.localdate(newest) >= today - timedelta(days=KEPT)
