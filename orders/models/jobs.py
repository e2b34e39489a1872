"""Work for later: a row written in the transaction that causes it, done at least once."""

from django.db import models
from django.utils import timezone


class Job(models.Model):
    class State(models.TextChoices):
        WAITING = "waiting"
        RUNNING = "running"
        DONE = "done"
        FAILED = "failed"

    kind = models.CharField(max_length=40)
    key = models.CharField(max_length=120, unique=True)  # the same cause writes the same key: done once
    payload = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    run_after = models.DateTimeField(default=timezone.now)
    leased_until = models.DateTimeField(null=True, blank=True)  # a worker that died lets go of it then
    error = models.TextField(blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["state", "run_after"])]

    def __str__(self) -> str:
        return f"{self.kind} {self.key} {self.state}"
