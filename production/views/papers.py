"""Papers for the nursery's own use, made when they are asked for and not kept: day sheets and tray labels."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from orders.access import needs, nursery_of, user_of
from orders.documents import PapersOff, render

from ..models import Batch
from ..papers.day_sheet import day_sheet_data
from ..papers.labels import Label, labels_data, labels_of_batch, labels_of_day


@needs("production.see_work")
@require_safe
def day_sheet(request: HttpRequest, day: date) -> HttpResponse:
    """A day's work to take into the greenhouse; `?mine` leaves out what needs other people's skills."""
    nursery = nursery_of(request)
    user = user_of(request) if "mine" in request.GET else None
    data = day_sheet_data(day, today=nursery.today(), nursery=nursery, user=user)
    return as_pdf(request, "pdf/day_sheet.html", data, f"work-{day.isoformat()}.pdf")


@needs("production.see_work")
@require_safe
def day_labels(request: HttpRequest, day: date) -> HttpResponse:
    """A label for each tray that is sown or grafted on a day."""
    return _labels(request, labels_of_day(day), f"labels-{day.isoformat()}.pdf")


@needs("production.see_work")
@require_safe
def batch_labels(request: HttpRequest, code: str) -> HttpResponse:
    """A label for each tray of a batch."""
    batch = get_object_or_404(Batch, code=code)
    return _labels(request, labels_of_batch(batch), f"labels-{batch.code}.pdf")


def _labels(request: HttpRequest, labels: Sequence[Label], name: str) -> HttpResponse:
    if not labels:
        messages.warning(request, _("No tray is sown or grafted then, so there is no label to print."))
        return redirect("today")
    return as_pdf(request, "pdf/labels.html", labels_data(labels, nursery=nursery_of(request)), name)


def as_pdf(request: HttpRequest, template: str, data: dict[str, Any], name: str) -> HttpResponse:
    try:
        content = render(template, data)
    except PapersOff as off:
        messages.error(request, str(off))
        return redirect("today")
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = content_disposition_header(False, name) or "inline"
    return answer
