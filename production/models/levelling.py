"""A levelling of the season: what it was asked of, how far it is, and the moves it found."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from orders.models import User


class SeasonLevelling(models.Model):
    """One run. The season is kept as the file that was levelled, and the moves' plans as a plan file of it.

    `progress` holds rounds done and to do, the best cost so far and the bound; a row of `moves` key, label, words,
    tells (the pickup to tell the customer, or null), needs (keys), was
    (promised or only asked), taken and refused.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        RUNNING = "running", _("running")
        DONE = "done", _("done")
        FAILED = "failed", _("failed")

    made_at = models.DateTimeField(auto_now_add=True)
    made_by = models.ForeignKey(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    stop_asked = models.BooleanField(default=False)
    progress = models.JSONField(default=dict)
    season = models.TextField()
    plan = models.TextField(blank=True)
    moves = models.JSONField(default=list)
    left_over = models.JSONField(default=list)  # label and why, in sentences
    before = models.JSONField(default=list)  # a Cost
    cost = models.JSONField(default=list)
    proved = models.BooleanField(default=False)
    trouble = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-id"]
        verbose_name = _("levelling")
        verbose_name_plural = _("levellings")

    def __str__(self) -> str:
        return f"{self._meta.verbose_name} {self.pk}"

    @property
    def going_on(self) -> bool:
        return self.state in (self.State.WAITING, self.State.RUNNING)
