"""Reminding a customer of what is overdue."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _

from orders import letters, wording
from orders.models import Letter, User
from orders.refusals import Refused

from .. import queries
from ..models import Invoice
from . import locks


def remind(*, invoice: Invoice, by: User | None, today: date) -> Letter:
    """Write a reminder of an overdue invoice, with its paper, at most once a day.

    A customer without an address goes on the call list. Raises Refused when nothing is due, or not yet.
    """
    with transaction.atomic():
        found = queries.paper(locks.invoice(invoice).number)
        if found.balance <= 0:
            raise Refused(
                _("Nothing is due on %(number)s.") % {"number": found.number}, mend=_("It needs no reminder.")
            )
        if found.due_on and found.due_on >= today:
            raise Refused(
                _("%(number)s is due on %(day)s.") % {"number": found.number, "day": wording.day(found.due_on)},
                mend=_("Remind the customer after that day."),
            )
        key = f"reminder:{found.number}:{today.isoformat()}"
        if Letter.objects.filter(key=key).exists():
            raise Refused(
                _("A reminder of %(number)s was written today.") % {"number": found.number},
                mend=_("Wait for the answer, or write another tomorrow."),
            )
        return letters.queue(
            kind="reminder",
            key=key,
            customer=found.customer,
            order=found.order,
            document=found.document,
            context={"invoice": found, "balance": found.balance, "today": today},
            by=by.shown_name if by else "",
        )
