"""Today: what to do now, what is late, what may wait; recorded with a thumb, one by one or all as planned."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.access import needs, nursery_of, user_of
from orders.refusals import ManyRefused, Refused
from orders.states import MoveRefused
from orders.tables.writing import file_asked

from .. import exports
from ..forms.recording import WorkForm
from ..models import Place, Work
from ..queries.today import DaySheet, day_sheet
from ..services import growing, replan
from ..services.common import derived_id
from ..words import day_words
from .asking import key_from


@needs("production.see_work")
@require_safe
def today(request: HttpRequest) -> HttpResponseBase:
    """The home page. Opening it plans yesterday's unrecorded work for today."""
    now = nursery_of(request).today()
    replan.roll_over(now)
    sheet = _sheet(request, now)
    return exports.WORK.answer(exports.work_rows(sheet)) if file_asked(request) else _page(request, sheet)


def _sheet(request: HttpRequest, now: date) -> DaySheet:
    return day_sheet(now, today=now, user=user_of(request), everything="all" in request.GET)


def _page(request: HttpRequest, sheet: DaySheet, *, refused: tuple[int, str] | None = None) -> HttpResponse:
    """The page, or for htmx only its sheet; `refused` names the work that could not be recorded, and why."""
    context = {
        "sheet": sheet,
        "section": "today",
        "refused_work": refused[0] if refused else None,
        "refused": refused[1] if refused else "",
        "places": Place.objects.filter(active=True),
        "key": uuid.uuid4(),
        "everything": "all" in request.GET,
        "tomorrow": sheet.day + timedelta(days=1),
    }
    template = "production/today.html" + ("#sheet" if request.headers.get("HX-Request") else "")
    return render(request, template, context, status=422 if refused else 200)


@needs("production.see_work")
@require_safe
def day(request: HttpRequest, day: date) -> HttpResponseBase:
    """The work of another day, to look at."""
    now = nursery_of(request).today()
    if day == now:
        return redirect("today")
    sheet = day_sheet(day, today=now, user=user_of(request), everything="all" in request.GET)
    if file_asked(request):
        return exports.WORK.answer(exports.work_rows(sheet))
    context = {
        "sheet": sheet,
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "section": "today",
    }
    return render(request, "production/day.html", context)


# --- one piece of work ------------------------------------------------------------------------------------


@needs("production.record_work")
@require_POST
def work_done(request: HttpRequest, pk: int) -> HttpResponse:
    """Record one piece of work as done."""
    work = get_object_or_404(Work, pk=pk)
    now = nursery_of(request).today()
    form = WorkForm(request.POST)
    if not form.is_valid():
        return _refused(request, now, work, "; ".join(str(e) for errors in form.errors.values() for e in errors))
    said = form.cleaned_data
    try:
        work = growing.do_work(
            work=work, by=user_of(request), today=now, happened_on=said["happened_on"], count=said["count"],
            reason=said["reason"], lot=said["lot"], place=said["place"], count_id=derived_id(said["key"], work.pk),
        )  # fmt: skip
    except (Refused, MoveRefused) as refusal:
        return _refused(request, now, work, str(refusal))
    messages.success(
        request, _("Recorded: %(work)s, %(n)s.") % {"work": work.get_kind_display(), "n": work.done_plants}
    )
    return _back(request, now)


@needs("production.record_work")
@require_POST
def work_put_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Not today."""
    work = get_object_or_404(Work, pk=pk)
    now = nursery_of(request).today()
    try:
        work = growing.put_off(work=work, by=user_of(request), today=now)
    except Refused as refusal:
        return _refused(request, now, work, str(refusal))
    messages.success(
        request, _("%(work)s is put off to %(day)s.") % {
            "work": work.get_kind_display(), "day": day_words(work.day)
        }
    )  # fmt: skip
    return _back(request, now)


def _back(request: HttpRequest, now: date) -> HttpResponse:
    if request.headers.get("HX-Request"):
        return _page(request, _sheet(request, now))
    return redirect("today")


def _refused(request: HttpRequest, now: date, work: Work, why: str) -> HttpResponse:
    return _page(request, _sheet(request, now), refused=(work.pk, why))


# --- all as planned, except… ---------------------------------------------------------------------------------


@needs("production.record_work")
@require_http_methods(["GET", "POST"])
def today_part(request: HttpRequest, part: str) -> HttpResponse:
    """A part of the day in one go: everything done as planned, but what is unticked or has another number."""
    now = nursery_of(request).today()
    section = _sheet(request, now).section(part)
    if part not in ("late", "morning", "day", "evening"):
        raise Http404
    if request.method == "POST":
        return _sweep(request, part, now)
    if section is None:
        return redirect("today")
    context = {"part": section, "key": uuid.uuid4(), "section": "today", "faults": {}}
    return render(request, "production/today_part.html", context)


def _sweep(request: HttpRequest, part: str, now: date) -> HttpResponse:
    posted = request.POST
    works = list(Work.objects.filter(pk__in=[int(pk) for pk in posted.getlist("work") if pk.isdigit()]))
    typed = {work.pk: posted.get(f"n-{work.pk}", "") for work in works}
    numbers = {pk: int(number) for pk, number in typed.items() if number.isdecimal()}
    unless = [work.pk for work in works if not posted.get(f"done-{work.pk}")]
    try:
        recorded = growing.do_all_as_planned(
            works=works,
            by=user_of(request),
            today=now,
            unless=unless,
            numbers=numbers,
            key=key_from(posted.get("key")),
        )
    except ManyRefused as refusal:
        return _sweep_refused(request, part, now, refusal)
    n = len(recorded.done)
    messages.success(
        request, ngettext("%(n)s piece of work is recorded.", "%(n)s pieces of work are recorded.", n) % {"n": n}
    )
    return HttpResponseRedirect(reverse("today"))


def _sweep_refused(request: HttpRequest, part: str, now: date, refusal: ManyRefused) -> HttpResponse:
    section = _sheet(request, now).section(part)
    faults = {int(each.field.removeprefix("work-")): str(each) for each in refusal.refusals}
    context = {
        "part": section,
        "key": request.POST.get("key"),
        "section": "today",
        "faults": faults,
        "posted": request.POST,
    }
    return render(request, "production/today_part.html", context, status=422)
