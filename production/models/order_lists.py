"""A list of orders that somebody brought: its rows as they were read, what was found and what became of them."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils.translation import gettext_lazy as _

from orders.models import User


class OrderList(models.Model):
    """One list. Nothing of it is an order until it is confirmed.

    `head` holds the cells of its headings, `rows` number and cells of each row, both as text. `faults` are row,
    column, reason, mend, found. `orders` are in the list's order: name, who, address (whether the list has one),
    rows, state (one of Outcome), order (its code, once stored) and lines, each with row, what, plants, asked,
    pickup, days (that would fit) and says.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting to be checked")
        CHECKING = "checking", _("being checked")
        CHECKED = "checked", _("checked")
        TAKING = "taking", _("being taken")
        TAKEN = "taken", _("taken")
        FAILED = "failed", _("failed")

    class Outcome(models.TextChoices):
        FAULTY = "faulty", _("to mend")
        FITS = "fits", _("fits")
        FULL = "full", _("does not fit")
        UNJUDGED = "unjudged", _("not looked at")
        PROMISED = "promised", _("promised")
        KEPT = "kept", _("kept as asked")
        LEFT = "left", _("left out")

    class Others(models.TextChoices):
        LEAVE = "leave", _("leave them out")
        KEEP = "keep", _("keep them as asked, promising nothing")

    name = models.CharField(_("file"), max_length=200)
    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    taken_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    others = models.CharField(max_length=10, choices=Others, default=Others.LEAVE)
    key = models.UUIDField(default=uuid.uuid4, editable=False)  # the keys of its orders are derived from it
    progress = models.JSONField(default=dict)  # orders done and of how many
    head = models.JSONField(default=list)
    rows = models.JSONField(default=list)
    faults = models.JSONField(default=list)
    orders = models.JSONField(default=list)
    trouble = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]
        verbose_name = _("list of orders")
        verbose_name_plural = _("lists of orders")

    def __str__(self) -> str:
        return self.name

    @property
    def going_on(self) -> bool:
        return self.state in (self.State.WAITING, self.State.CHECKING, self.State.TAKING)
