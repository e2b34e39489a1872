"""The lists of money as files to take away: what each column is headed, and what it says of a row."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy as _l

from orders.models import Order
from orders.tables.writing import ListFile

from . import queries
from .models import Payment

if TYPE_CHECKING:
    from .queries import Paper


def papers_file(name: str, today: date) -> ListFile:
    """Invoices and credit notes; the amounts of a credit note are below zero."""

    def state(paper: Paper) -> str:
        return "" if paper.is_credit_note else str(queries.invoice_state(paper, today).label)

    def sign(paper: Paper) -> int:
        return -1 if paper.is_credit_note else 1

    return ListFile(
        name,
        (
            (_l("Number"), lambda paper: paper.number),
            (_l("What"), lambda paper: paper.get_kind_display()),
            (_l("Date"), lambda paper: paper.issued_on),
            (_l("Customer"), lambda paper: paper.buyer_name),
            (_l("Order"), lambda paper: paper.order.code if paper.order else ""),
            (_l("State"), state),
            (_l("Credits"), lambda paper: paper.corrects.number if paper.corrects else ""),
            (_l("To be paid by"), lambda paper: paper.due_on),
            (_l("Total"), lambda paper: sign(paper) * paper.total),
            (_l("Paid"), lambda paper: paper.paid),
            (_l("Still open"), lambda paper: paper.balance),
            (_l("Currency"), lambda paper: paper.currency),
        ),
    )


TO_BILL = ListFile(
    _l("to-bill"),
    (
        (_l("Order"), lambda one: one.order.code),
        (_l("Customer"), lambda one: one.order.who),
        (_l("Handed over"), lambda one: one.since),
        (_l("What"), lambda one: "; ".join(f"{item.quantity} {item.line.what}" for item in one.items)),
        (_l("Comes to"), lambda one: None if one.unpriced else one.gross),
    ),
)


def _order(payment: Payment) -> Order | None:
    return payment.order or (payment.invoice.order if payment.invoice else None)


PAYMENTS = ListFile(
    _l("payments"),
    (
        (_l("On"), lambda payment: payment.on),
        (_l("What"), lambda payment: payment.get_kind_display()),
        (_l("Invoice"), lambda payment: payment.invoice.number if payment.invoice else ""),
        (_l("Order"), lambda payment: order.code if (order := _order(payment)) else ""),
        (_l("Customer"), lambda payment: order.who if (order := _order(payment)) else ""),
        (_l("Amount"), lambda payment: payment.signed),
        (_l("How"), lambda payment: payment.get_how_display()),
        (_l("Note"), lambda payment: payment.note),
        (_l("By"), lambda payment: payment.by),
    ),
)

DEPOSITS = ListFile(
    _l("deposits-to-come"),
    (
        (_l("Order"), lambda one: one.order.code),
        (_l("Customer"), lambda one: one.order.who),
        (_l("Amount"), lambda one: one.amount),
    ),
)
