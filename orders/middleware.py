"""Hands each request its nursery, in the nursery's own time zone and the user's language."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone, translation

from .models import Nursery


class NurseryMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        nursery = Nursery.current()
        request.nursery = nursery  # type: ignore[attr-defined]
        language = getattr(request.user, "language", "") or nursery.language
        with timezone.override(ZoneInfo(nursery.time_zone)), translation.override(language):
            return self.get_response(request)
