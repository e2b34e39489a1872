"""The work that is to do, and the counts that say what came of it."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.models import OrderLine

from .growing import Part, Sowing
from .protocols import StageWork


class Work(models.Model):
    class State(models.TextChoices):
        PLANNED = "planned", _("to do")
        DONE = "done", _("done")
        DROPPED = "dropped", _("dropped")

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="works")
    sowing = models.ForeignKey(Sowing, null=True, blank=True, on_delete=models.CASCADE, related_name="works")
    kind = models.CharField(max_length=15, choices=StageWork.Kind)
    subject = models.CharField(max_length=10)
    stage = models.CharField(max_length=40)  # a stage's key
    day = models.DateField(db_index=True)  # planned; rolls to today while it is not done
    due = models.DateField()  # as planned at first: what 'late' is measured from
    part_of_day = models.CharField(max_length=10, choices=StageWork.PartOfDay)
    plants = models.PositiveIntegerField()
    hours = models.JSONField(default=list)  # [[skill, hours], …]
    care = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED, db_index=True)
    done_on = models.DateField(null=True, blank=True)
    done_plants = models.PositiveIntegerField(null=True, blank=True)
    done_by = models.CharField(max_length=150, blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["day", "id"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="done") | Q(done_on__isnull=False, recorded_at__isnull=False),
                name="done_work_has_its_day",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.part} {self.day}"

    @property
    def total_hours(self) -> float:
        return float(sum(hours for _skill, hours in self.hours))


class Count(models.Model):
    """A number somebody counted. Append-only; a correction is another row that names the one it corrects."""

    class Kind(models.TextChoices):
        SOWN = "sown", _("sown")
        EMERGED = "emerged", _("emerged")
        USABLE = "usable", _("fit to graft")
        GRAFTED = "grafted", _("grafted")
        TAKEN = "taken", _("taken")
        LOST = "lost", _("lost")
        READY = "ready", _("ready")
        HANDED_OVER = "handed_over", _("handed over")

    id = models.UUIDField(
        primary_key=True, default=uuid.uuid4
    )  # made by the client, so that a resend is no repeat
    kind = models.CharField(max_length=12, choices=Kind)
    quantity = models.PositiveIntegerField()
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="counts")
    sowing = models.ForeignKey(Sowing, null=True, blank=True, on_delete=models.PROTECT, related_name="counts")
    line = models.ForeignKey(OrderLine, null=True, blank=True, on_delete=models.PROTECT, related_name="counts")
    work = models.ForeignKey(Work, null=True, blank=True, on_delete=models.SET_NULL, related_name="counts")
    reason = models.CharField(max_length=200, blank=True)  # of a loss
    happened_on = models.DateField()
    recorded_at = models.DateTimeField(default=timezone.now)
    by = models.CharField(max_length=150, blank=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )

    class Meta:
        ordering = ["recorded_at"]
        indexes = [models.Index(fields=["part", "kind"])]

    def __str__(self) -> str:
        return f"{self.quantity} {self.get_kind_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("Counts are only added to; correct one with another.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("Counts are only added to; correct one with another.")

    @property
    def is_corrected(self) -> bool:
        return hasattr(self, "corrected_by")
