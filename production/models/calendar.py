"""The private link to a user's calendar, and what it told of each entry last."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from orders.models import User
from orders.models.nursery import new_token


class CalendarLink(models.Model):
    """One per user. Whoever holds the token reads what the user may see, until it is taken back.

    `told` holds by uid of an entry the fingerprint of what was told of it, how often that changed, and when last.
    """

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="calendar_link")
    token = models.CharField(max_length=40, unique=True, default=new_token, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    told = models.JSONField(default=dict, editable=False)

    class Meta:
        verbose_name = _("calendar link")

    def __str__(self) -> str:
        return f"{self._meta.verbose_name} {self.user}"
