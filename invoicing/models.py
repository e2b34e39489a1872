"""The bill: invoices and credit notes as issued, payments, numbers without a gap, and when plants were taken.

Everything here but a number series is only ever added to. Rows refuse to be saved again or deleted, and the
database refuses it too (guards.py).
"""

from __future__ import annotations

import uuid
from decimal import Decimal
from typing import Any, TypeVar

from django.core.validators import MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from orders.models import Customer, Document, Order, OrderLine

HALF_A_THOUSANDTH = Decimal("0.0005")  # SQLite keeps amounts as binary fractions

Row = TypeVar("Row", bound="Kept")


class KeptQuerySet(models.QuerySet[Row]):
    def update(self, **kwargs: Any) -> int:
        raise TypeError("Issued rows are never changed.")

    def delete(self) -> tuple[int, dict[str, int]]:
        raise TypeError("Issued rows are never deleted.")


class Kept(models.Model):
    """A row that is written once."""

    objects = KeptQuerySet.as_manager()

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("Issued rows are never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("Issued rows are never deleted.")


class Invoice(Kept):
    """An invoice or a credit note, with its own copy of all that stands on it.

    Sums are named as EN 16931 has them: net BT-109, tax BT-110, total BT-112, deposit BT-113, due BT-115.
    A credit note has amounts above zero, like its invoice, which is in `corrects`.
    """

    class Kind(models.TextChoices):
        INVOICE = "invoice", _("Invoice")
        CREDIT_NOTE = "credit_note", _("Credit note")

    kind = models.CharField(max_length=12, choices=Kind, default=Kind.INVOICE)
    number = models.CharField(_("number"), max_length=30, unique=True)
    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="invoices")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="invoices")
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="credit_notes"
    )
    reason = models.CharField(max_length=300, blank=True)  # of a credit note
    bill_again = models.BooleanField(default=False)  # what a credit note took back is to be billed anew

    issued_on = models.DateField(_("date"))
    supplied_on = models.DateField(_("handed over on"))
    due_on = models.DateField(_("to be paid by"), null=True, blank=True)

    seller_name = models.CharField(max_length=120)
    seller_address = models.TextField(blank=True)
    seller_country = models.CharField(max_length=2, blank=True)
    seller_email = models.EmailField(blank=True)
    seller_phone = models.CharField(max_length=40, blank=True)
    seller_tax_number = models.CharField(max_length=40, blank=True)
    buyer_name = models.CharField(max_length=120)
    buyer_address = models.TextField(blank=True)
    buyer_country = models.CharField(max_length=2, blank=True)
    buyer_tax_number = models.CharField(max_length=40, blank=True)

    language = models.CharField(max_length=10)
    currency = models.CharField(max_length=3)
    tax_name = models.CharField(max_length=30)
    prices_include_tax = models.BooleanField(default=False)
    terms = models.TextField(blank=True)

    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)
    total = models.DecimalField(max_digits=12, decimal_places=2)
    deposit = models.DecimalField(max_digits=12, decimal_places=2, default=Decimal(0))

    issued_by = models.CharField(max_length=150, blank=True)
    # Made by the page or the API client before it submits: the same key twice is the same paper.
    submit_key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]
        permissions = [
            ("see_money", "May see invoices and payments"),
            ("issue_invoices", "May issue invoices and credit notes"),
            ("record_payments", "May record payments and send reminders"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="invoice", corrects__isnull=True, due_on__isnull=False)
                | (Q(kind="credit_note", corrects__isnull=False, due_on__isnull=True) & ~Q(reason="")),
                name="credit_note_corrects",
            ),
            models.CheckConstraint(
                condition=Q(
                    total__gte=F("net") + F("tax") - HALF_A_THOUSANDTH,
                    total__lte=F("net") + F("tax") + HALF_A_THOUSANDTH,
                ),
                name="total_is_net_and_tax",
            ),
            models.CheckConstraint(condition=Q(net__gte=0, tax__gte=0), name="invoice_not_negative"),
            models.CheckConstraint(
                condition=Q(deposit=0) | Q(kind="invoice", deposit__gt=0, deposit__lte=F("total")),
                name="deposit_within_total",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"

    @property
    def is_credit_note(self) -> bool:
        return self.kind == self.Kind.CREDIT_NOTE

    @property
    def due(self) -> Decimal:
        """What was to be paid when it was issued."""
        return self.total - self.deposit

    @property
    def document(self) -> Document | None:
        """The paper; None until the job that makes it has run."""
        return Document.objects.filter(kind=self.kind, code=self.number).first()


class InvoiceLine(Kept):
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="lines")
    number = models.PositiveSmallIntegerField()
    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="invoice_lines")
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="credit_lines"
    )
    text = models.CharField(max_length=300)
    quantity = models.PositiveIntegerField()
    unit = models.CharField(max_length=30)
    unit_price = models.DecimalField(max_digits=10, decimal_places=4)
    tax_rate = models.DecimalField(max_digits=5, decimal_places=2)  # percent
    amount = models.DecimalField(max_digits=12, decimal_places=2)  # without tax, unless prices include it

    class Meta:
        ordering = ["invoice_id", "number"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "number"], name="invoice_line_number_once"),
            models.UniqueConstraint(fields=["invoice", "order_line"], name="order_line_once_per_invoice"),
            models.CheckConstraint(condition=Q(quantity__gte=1), name="billed_quantity_positive"),
            models.CheckConstraint(
                condition=Q(unit_price__gte=0, amount__gte=0, tax_rate__gte=0, tax_rate__lte=100),
                name="invoice_line_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.invoice.number} {self.number}"


class InvoiceTax(Kept):
    """All of an invoice that is taxed at one rate (EN 16931's VAT breakdown: BT-116, 117, 119)."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="tax_rows")
    rate = models.DecimalField(max_digits=5, decimal_places=2)  # percent
    net = models.DecimalField(max_digits=12, decimal_places=2)
    tax = models.DecimalField(max_digits=12, decimal_places=2)

    class Meta:
        ordering = ["invoice_id", "rate"]
        constraints = [
            models.UniqueConstraint(fields=["invoice", "rate"], name="tax_rate_once_per_invoice"),
            models.CheckConstraint(condition=Q(net__gte=0, tax__gte=0), name="tax_row_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.invoice.number} {self.rate} %"


class Payment(Kept):
    """Money that came in or went back, for an invoice or, before there is one, for an order (a deposit).

    The amount is always above zero; `signed` has the sign of its kind.
    """

    class Kind(models.TextChoices):
        PAYMENT = "payment", _("Payment")
        REFUND = "refund", _("Given back")
        TAKEN_BACK = "taken_back", _("Taken back, entered by mistake")

    class How(models.TextChoices):
        TRANSFER = "transfer", _("Bank transfer")
        CASH = "cash", _("Cash")
        CARD = "card", _("Card")
        CHEQUE = "cheque", _("Cheque")
        OTHER = "other", _("Another way")
        MOVED = "moved", _("Carried over")  # from an invoice that was credited to the order's next one

    kind = models.CharField(_("what"), max_length=12, choices=Kind, default=Kind.PAYMENT)
    invoice = models.ForeignKey(Invoice, null=True, blank=True, on_delete=models.PROTECT, related_name="payments")
    order = models.ForeignKey(Order, null=True, blank=True, on_delete=models.PROTECT, related_name="deposits")
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="taken_back_by"
    )
    amount = models.DecimalField(
        _("amount"), max_digits=12, decimal_places=2, validators=[MinValueValidator(Decimal("0.01"))]
    )
    on = models.DateField(_("on"))
    how = models.CharField(_("how"), max_length=12, choices=How, default=How.TRANSFER)
    note = models.CharField(_("note"), max_length=200, blank=True)
    by = models.CharField(max_length=150, blank=True)
    # Made by the page or the API client before it submits: the same key twice is the same payment.
    key = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="payment_above_zero"),
            models.CheckConstraint(
                condition=Q(invoice__isnull=True, order__isnull=False)
                | Q(invoice__isnull=False, order__isnull=True),
                name="payment_for_invoice_or_order",
            ),
            models.CheckConstraint(
                condition=Q(kind="taken_back", corrects__isnull=False)
                | Q(kind__in=["payment", "refund"], corrects__isnull=True),
                name="taken_back_names_payment",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.amount}"

    @property
    def signed(self) -> Decimal:
        """Above zero for what came in; taking back a mistake does the opposite of the mistake."""
        if self.corrects:
            return -self.corrects.signed
        return self.amount if self.kind == self.Kind.PAYMENT else -self.amount


class NumberSeries(models.Model):
    """The numbers of one kind of paper in one year: prefix, year, running number ('2027-0001').

    Its row is locked while a paper is issued, and moves on only if the paper is stored.
    """

    kind = models.CharField(max_length=12, choices=Invoice.Kind)
    year = models.PositiveSmallIntegerField()
    prefix = models.CharField(
        _("before the year"),
        max_length=10,
        blank=True,
        validators=[RegexValidator(r"^[A-Za-z0-9-]*\Z", _("Use letters, digits and dashes."))],
    )
    first_number = models.PositiveIntegerField(
        _("first number"),
        default=1,
        validators=[MinValueValidator(1)],
        help_text=_("Other than 1 only where the year began with papers made elsewhere."),
    )
    next_number = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-year", "kind"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "year"], name="series_once_a_year"),
            models.UniqueConstraint(fields=["prefix", "year"], name="series_prefix_once_a_year"),
            models.CheckConstraint(
                condition=Q(first_number__gte=1, next_number__gte=F("first_number")), name="series_runs_on"
            ),
        ]

    def __str__(self) -> str:
        return self.shown(self.next_number)

    def shown(self, number: int) -> str:
        return f"{self.prefix}{self.year}-{number:04d}"

    @property
    def begun(self) -> bool:
        """A number was given; the prefix stays as it is from then on."""
        return self.next_number > self.first_number


class Collection(Kept):
    """Plants that were handed over on a day: the supply date of the invoice to come."""

    order_line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="collections")
    quantity = models.PositiveIntegerField()
    on = models.DateField()

    class Meta:
        ordering = ["on", "id"]

    def __str__(self) -> str:
        return f"{self.on}: {self.quantity}"
