"""Hands each request its nursery, its time zone and the user's language; turns away what is no text; keeps what is
shown from caches that others share."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from .models import Nursery
from .problems import MEDIA_TYPE


class NurseryMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        nursery = Nursery.current()
        request.nursery = nursery  # type: ignore[attr-defined]
        language = getattr(request.user, "language", "") or nursery.language
        with timezone.override(ZoneInfo(nursery.time_zone)), translation.override(language):
            return self.get_response(request)


class PrivateMiddleware:
    """What is shown to those who signed in is no proxy's to keep, and the browser asks before showing it again."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.user.is_authenticated:
            response.headers.setdefault("Cache-Control", "private, no-cache")
        return response


class NoNulMiddleware:
    """An address with a NUL character (%00) leads nowhere, and a search for one is refused: PostgreSQL keeps no
    such text, so that asking it would be an error of ours. Forms and the API's fields refuse it by themselves.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path:
            raise Http404
        for field, values in request.GET.lists():
            if any("\0" in text for text in (field, *values)):
                return _no_text(request, field.replace("\0", ""))
        return self.get_response(request)


def _no_text(request: HttpRequest, field: str) -> HttpResponse:
    reason, mend = (
        _("“%(field)s” holds a character that is no text (%%00).") % {"field": field},
        _("Leave it out."),
    )
    if not request.path.startswith("/api/"):
        return render(request, "400.html", {"reason": reason, "mend": mend}, status=400)
    fault = {"field": field, "reason": reason, "mend": mend}
    body = {"type": "about:blank", "title": "Not possible", "status": 400, "detail": reason, "faults": [fault]}
    return JsonResponse(body, status=400, content_type=MEDIA_TYPE)
