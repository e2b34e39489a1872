"""Append-only: who did what when."""

from __future__ import annotations

from typing import Any

from django.db import models

from .models import HistoryEntry, User


def name_of(by: User | str | None) -> str:
    """What history calls whoever acted; '' for the service itself."""
    return by.shown_name if isinstance(by, User) else by or ""


def record(
    *, by: User | str | None, what: str, subject: models.Model, code: str = "", text: str = "", **detail: Any
) -> HistoryEntry:
    """Add one row, inside the caller's transaction. `by` None means that the service itself acted.

    A job knows the person who caused it by name only.
    """
    return HistoryEntry.objects.create(
        by=name_of(by),
        what=what,
        subject=subject._meta.model_name or "",
        subject_id=subject.pk,
        code=code or str(getattr(subject, "code", "")),
        text=text,
        detail=detail,
    )


def of(subject: models.Model) -> models.QuerySet[HistoryEntry]:
    """The history of one thing, newest first."""
    return HistoryEntry.objects.filter(subject=subject._meta.model_name, subject_id=subject.pk)
