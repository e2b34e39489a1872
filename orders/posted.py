"""Free words of a form that is too small for a form class: a reason beside a button."""

from __future__ import annotations

from django.http import HttpRequest

LONGEST = 300  # characters that are kept of a reason


def words_of(request: HttpRequest, name: str) -> str:
    """The words posted under `name`, without a NUL, which PostgreSQL keeps in no text."""
    return request.POST.get(name, "").replace("\0", "").strip()[:LONGEST]
