"""Papers as they were issued, letters as they were sent, and the mailbox of an embedded nursery."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from .customers import Customer
from .nursery import new_token
from .orders import Order


class Document(models.Model):
    """An issued paper: its bytes, their fingerprint and the data it was made from. Never changed."""

    class Kind(models.TextChoices):
        QUOTE = "quote", _("Quote")
        CONFIRMATION = "confirmation", _("Confirmation")
        DAY_SHEET = "day_sheet", _("Day sheet")
        LABELS = "labels", _("Tray labels")
        PICKUP_NOTE = "pickup_note", _("Pickup note")
        INVOICE = "invoice", _("Invoice")
        CREDIT_NOTE = "credit_note", _("Credit note")
        STATEMENT = "statement", _("Statement")

    kind = models.CharField(max_length=20, choices=Kind)
    code = models.CharField(max_length=40)  # the order's code, the invoice's number, the day
    revision = models.PositiveSmallIntegerField(default=1)
    title = models.CharField(max_length=200)
    order = models.ForeignKey(Order, null=True, blank=True, on_delete=models.PROTECT, related_name="documents")
    customer = models.ForeignKey(
        Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="documents"
    )
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    data = models.JSONField(default=dict, blank=True)
    token = models.CharField(max_length=40, unique=True, default=new_token)
    created_at = models.DateTimeField(auto_now_add=True)
    created_by = models.CharField(max_length=150, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [models.UniqueConstraint(fields=["kind", "code", "revision"], name="paper_once")]

    def __str__(self) -> str:
        return self.title

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk:
            raise TypeError("An issued paper is never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("An issued paper is never deleted.")


class Letter(models.Model):
    """A letter to a customer: first a row, then mail; without an address, a call to make."""

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        SENDING = "sending", _("being sent")
        SENT = "sent", _("sent")
        FAILED = "failed", _("failed")
        TO_CALL = "to_call", _("to call")
        CALLED = "called", _("called")
        DRAFT = "draft", _("draft")
        PUT_ASIDE = "put_aside", _("put aside")

    # quote, confirmation, pickup_moved, pickup_ready, invoice, credit_note, reminder
    kind = models.CharField(max_length=30)
    key = models.CharField(max_length=120, unique=True)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="letters")
    order = models.ForeignKey(Order, null=True, blank=True, on_delete=models.PROTECT, related_name="letters")
    document = models.ForeignKey(Document, null=True, blank=True, on_delete=models.PROTECT, related_name="letters")
    to = models.EmailField(blank=True)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    html = models.TextField(blank=True)
    calendar = models.TextField(blank=True)  # an iCalendar entry, attached as pickup.ics
    call_words = models.TextField(blank=True)  # what to say on the telephone
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    error = models.TextField(blank=True)
    message_id = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True, blank=True)  # sent, called or put aside
    ended_by = models.CharField(max_length=150, blank=True)
    ended_reason = models.CharField(max_length=200, blank=True)  # why it was put aside

    class Meta:
        ordering = ["-id"]
        permissions = [("send_letters", "May send letters and tick off calls")]

    def __str__(self) -> str:
        return self.subject


class MailboxMessage(models.Model):
    """A message as it would have gone over the wire; what an embedded nursery has for a mail server."""

    to = models.CharField(max_length=400)
    subject = models.CharField(max_length=300)
    raw = models.BinaryField()
    received_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return self.subject
