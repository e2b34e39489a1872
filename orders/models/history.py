"""Append-only: who did what when. No foreign keys, so that nothing deleted takes its history along."""

from typing import Any

from django.db import models


class HistoryEntry(models.Model):
    at = models.DateTimeField(auto_now_add=True)
    by = models.CharField(max_length=150, blank=True)  # the name as it was; '' when the service itself acted
    what = models.CharField(max_length=60)  # 'order taken', 'line confirmed', …
    subject = models.CharField(max_length=30)  # 'order', 'batch', 'invoice', …
    subject_id = models.BigIntegerField()
    code = models.CharField(max_length=40, blank=True)
    text = models.TextField(blank=True)  # the sentence that pages show
    detail = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["subject", "subject_id"])]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.what} {self.code}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        if self.pk:
            raise TypeError("History is only added to.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        raise TypeError("History is only added to.")
