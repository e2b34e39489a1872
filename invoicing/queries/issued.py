"""Reads of what is issued: invoices, credit notes, and the payments for them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict

from django.db import models
from django.db.models import Case, Count, F, IntegerField, OuterRef, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Round
from django.utils.translation import gettext_lazy as _

from orders import wording

from ..models import Invoice, InvoiceLine, Payment
from .amounts import AMOUNT, SIGNED, ZERO, summed

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    class Sums(TypedDict):
        paid: Decimal  # since it was issued, less what was given back
        credited: Decimal
        balance: Decimal  # still owed; below zero, paid too much; 0 of a credit note

    Paper = WithAnnotations[Invoice, Sums]


class InvoiceState(models.TextChoices):
    BILLED = "billed", _("billed")
    OVERDUE = "overdue", _("overdue")
    PAID_IN_PART = "paid_in_part", _("paid in part")
    PAID = "paid", _("paid")
    PAID_TOO_MUCH = "paid_too_much", _("paid too much")
    CREDITED = "credited", _("credited")


def papers() -> QuerySet[Paper]:
    """Invoices and credit notes, newest first, each with `paid`, `credited` and `balance`."""
    paid = summed(Payment.objects.filter(invoice=OuterRef("pk")), "invoice", SIGNED, AMOUNT)
    credited = summed(Invoice.objects.filter(corrects=OuterRef("pk")), "corrects", F("total"), AMOUNT)
    owed = F("total") - F("deposit") - F("paid") - F("credited")
    return (
        Invoice.objects.select_related("customer", "order", "corrects")
        .annotate(paid=Round(paid, 2, output_field=AMOUNT), credited=Round(credited, 2, output_field=AMOUNT))
        .annotate(
            balance=Case(
                When(kind=Invoice.Kind.INVOICE, then=Round(owed, 2, output_field=AMOUNT)),
                default=Value(ZERO),
                output_field=AMOUNT,
            )
        )
    )


def invoices() -> QuerySet[Paper]:
    """As papers(), without credit notes."""
    return papers().filter(kind=Invoice.Kind.INVOICE)


def paper(number: str) -> Paper:
    """One invoice or credit note by its number; raises Invoice.DoesNotExist."""
    return papers().get(number=number)


def owed() -> QuerySet[Paper]:
    """Invoices on which something is still due, the one due first on top."""
    return invoices().filter(balance__gt=ZERO).order_by("due_on", "id")


@dataclass(frozen=True, slots=True)
class Owed:
    """What is owed in all, and how much of it is overdue; words as '€120.00', or '€120.00 and £7.50'."""

    number: int
    words: str
    overdue: int
    overdue_words: str


def owed_in_all(today: date) -> Owed:
    """Added up by the database, however many invoices are open."""
    late = Q(due_on__lt=today)
    sums = list(
        owed()
        .order_by("currency")
        .values_list("currency")
        .annotate(number=Count("pk"), sum=Sum("balance"))
        .annotate(overdue=Count("pk", filter=late), overdue_sum=Sum("balance", filter=late))
    )
    return Owed(
        number=sum(row[1] for row in sums),
        words=_amounts({row[0]: row[2] for row in sums}),
        overdue=sum(row[3] for row in sums),
        overdue_words=_amounts({row[0]: row[4] for row in sums if row[3]}),
    )


def _amounts(sums: dict[str, Decimal]) -> str:
    return _(" and ").join(wording.money(value, currency) for currency, value in sums.items())


def overdue(today: date) -> QuerySet[Paper]:
    return owed().filter(due_on__lt=today)


def paid_too_much() -> QuerySet[Paper]:
    return invoices().filter(balance__lt=ZERO)


def find_papers(words: str = "") -> QuerySet[Paper]:
    """Papers whose number, customer or order has all the words."""
    found = papers()
    for word in words.split():
        found = found.filter(
            Q(number__icontains=word) | Q(buyer_name__icontains=word) | Q(order__code__iexact=word)
        )
    return found


def invoice_state(invoice: Paper, today: date) -> InvoiceState:
    """How an invoice of invoices() stands."""
    if invoice.balance < 0:
        return InvoiceState.PAID_TOO_MUCH
    if invoice.balance == 0:
        return (
            InvoiceState.CREDITED if invoice.credited and invoice.credited == invoice.total else InvoiceState.PAID
        )
    if invoice.due_on and invoice.due_on < today:
        return InvoiceState.OVERDUE
    return InvoiceState.PAID_IN_PART if invoice.paid > 0 or invoice.deposit > 0 else InvoiceState.BILLED


def left_to_credit(invoice: Invoice) -> dict[InvoiceLine, int]:
    """How much of each line has not been credited yet."""
    credited = summed(
        InvoiceLine.objects.filter(corrects=OuterRef("pk")), "corrects", F("quantity"), IntegerField()
    )
    lines = invoice.lines.select_related("order_line").annotate(credited=credited)
    return {line: line.quantity - line.credited for line in lines}


def payments() -> QuerySet[Payment]:
    """Payments with what they were for, newest first."""
    return Payment.objects.select_related(
        "invoice__customer", "invoice__order", "order__customer", "corrects", "taken_back_by"
    )
