"""Errors of the API as problem details (RFC 9457), with every fault's field, reason and mend."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import PermissionDenied, RequestDataTooBig
from django.http import Http404
from django.utils.translation import gettext as _
from rest_framework import exceptions, status
from rest_framework.response import Response
from rest_framework.views import exception_handler

from .refusals import ManyRefused, Refused
from .states import MoveRefused

MEDIA_TYPE = "application/problem+json"


def problem(
    *, status_code: int, title: str, detail: str = "", faults: list[dict[str, str]] | None = None
) -> Response:
    body: dict[str, Any] = {"type": "about:blank", "title": title, "status": status_code, "detail": detail}
    if faults:
        body["faults"] = faults
    return Response(body, status=status_code, content_type=MEDIA_TYPE)


def problem_handler(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's hook: turn refusals and DRF's own errors into problem details."""
    if isinstance(exc, Refused):
        refusals = exc.refusals if isinstance(exc, ManyRefused) else [exc]
        faults = [{"field": r.field, "reason": r.reason, "mend": r.mend} for r in refusals]
        return problem(
            status_code=status.HTTP_409_CONFLICT if not exc.field else status.HTTP_400_BAD_REQUEST,
            title="Refused",
            detail=str(exc),
            faults=faults,
        )
    if isinstance(exc, MoveRefused):
        return problem(status_code=status.HTTP_409_CONFLICT, title="Not in this state", detail=str(exc))
    if isinstance(exc, exceptions.ValidationError):
        return problem(
            status_code=exc.status_code,
            title="Some fields need mending",
            detail="Nothing was saved.",
            faults=list(_faults(exc.detail)),
        )
    if isinstance(exc, RequestDataTooBig):
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE / 1_000_000
        said = _("It is larger than %(n).1f MB. Nothing was saved.") % {"n": most}
        return problem(status_code=status.HTTP_413_REQUEST_ENTITY_TOO_LARGE, title="Too large", detail=said)
    response = exception_handler(exc, context)
    if response is None:
        return None
    detail = str(exc) if not isinstance(exc, Http404 | PermissionDenied) else ""
    mended = problem(status_code=response.status_code, title=_title(response.status_code), detail=detail)
    for header, value in response.headers.items():
        if header.lower() != "content-type":
            mended[header] = value
    return mended


def _title(status_code: int) -> str:
    titles = {401: "Not signed in", 403: "Not allowed", 404: "Not found", 405: "Not this way", 429: "Too often"}
    return titles.get(status_code, "Not possible")


def _faults(detail: Any, field: str = "") -> Any:
    """Flatten DRF's nested error detail into field, reason, mend."""
    if isinstance(detail, dict):
        for key, value in detail.items():
            name = "" if key == "non_field_errors" else str(key)
            yield from _faults(value, f"{field}.{name}".strip(".") if name else field)
    elif isinstance(detail, list):
        for number, value in enumerate(detail):
            nested = isinstance(value, dict | list)
            yield from _faults(value, f"{field}.{number}".strip(".") if nested else field)
    else:
        yield {"field": field, "reason": str(detail), "mend": ""}
