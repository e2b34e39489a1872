"""What invoicing hears from the order file: plants were handed over, and are ready to bill from now on."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.dispatch import receiver

from orders.models import OrderLine
from orders.signals import line_collected

from .models import Collection


@receiver(line_collected, dispatch_uid="note-the-supply-date")
def note_the_supply_date(line: OrderLine, quantity: int, on: date, **_kwargs: Any) -> None:
    """That something is to bill follows from the line's own count; only the day would be lost."""
    if quantity:
        Collection.objects.create(order_line=line, quantity=quantity, on=on)
