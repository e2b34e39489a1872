"""Closed days: one by one, or from the public holidays of a country."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST

from orders.access import EDIT_NURSERY, needs, nursery_of, user_of
from orders.forms.accounts import add_refusal
from orders.refusals import Refused
from orders.tables.writing import file_asked

from .. import exports
from ..forms.places import ClosedDayForm, HolidayForm
from ..models import ClosedDay
from ..services import closing

WHAT_HAPPENS = gettext_lazy(
    "Work planned for a closed day moves to another one in a moment. Care stays, and so do promised pickups: "
    "their batches say so."
)
SHELF = {"section": "nursery", "shelf": "closed_days"}


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def closed_days(request: HttpRequest) -> HttpResponseBase:
    if file_asked(request):
        return exports.CLOSED_DAYS.answer(ClosedDay.objects.all())
    nursery = nursery_of(request)
    form = ClosedDayForm(request.POST if request.method == "POST" else None, nursery=nursery)
    if form.is_valid():
        holiday = closing.Holiday(form.cleaned_data["day"], form.cleaned_data["name"])
        closing.close(days=[holiday], by=user_of(request))
        messages.success(request, _("Closed on that day. %(what)s") % {"what": WHAT_HAPPENS})
        return redirect("closed_days")
    today = nursery.today()
    context = SHELF | {
        "form": form,
        "weekdays": [WEEKDAYS[number] for number in nursery.open_weekdays],
        "ahead": ClosedDay.objects.filter(day__gte=today),
        "past": ClosedDay.objects.filter(day__lt=today).order_by("-day"),
    }
    status = 422 if request.method == "POST" else 200
    return render(request, "production/nursery/closed_days.html", context, status=status)


@needs(EDIT_NURSERY)
@require_POST
def reopen_day(request: HttpRequest, pk: int) -> HttpResponse:
    closing.reopen(day=get_object_or_404(ClosedDay, pk=pk), by=user_of(request))
    messages.success(request, _("Open again on that day. What was kept off it is planned again in a moment."))
    return redirect("closed_days")


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def public_holidays(request: HttpRequest) -> HttpResponse:
    """Offer a country's holidays of a year as a list to tick; what is ticked is closed."""
    nursery = nursery_of(request)
    today = nursery.today()
    if request.method == "POST":
        made = closing.close(days=closing.ticked(request.POST.getlist("day")), by=user_of(request))
        said = ngettext("%(n)d day is closed now.", "%(n)d days are closed now.", len(made)) % {"n": len(made)}
        messages.success(request, f"{said} {WHAT_HAPPENS}")
        return redirect("closed_days")
    asked = request.GET if "country" in request.GET else {"country": nursery.country, "year": str(today.year)}
    form = HolidayForm(asked, this_year=today.year)
    offered: list[closing.Holiday] = []
    if form.is_valid():
        try:
            offered = closing.public_holidays(**form.cleaned_data)
        except Refused as refusal:
            add_refusal(form, refusal)
    closed = set(ClosedDay.objects.values_list("day", flat=True))
    rows = [(holiday, holiday.day in closed) for holiday in offered if holiday.day >= today]
    return render(request, "production/nursery/holidays.html", SHELF | {"form": form, "rows": rows})
