"""Charts of the season, and the season sheet to hang on the wall."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from orders.access import needs, nursery_of
from orders.tables.writing import file_asked

from .. import exports
from ..forms.season import SeasonForm
from ..papers.season_sheet import season_sheet_data
from ..season.charts import load_chart, loads, pickup_chart, pickups
from ..season.scope import Scope
from ..season.seed import buying, by_week, seed_chart, seed_needs
from .papers import as_pdf


@needs("production.see_work")
@require_safe
def season_charts(request: HttpRequest) -> HttpResponseBase:
    """Loads, orders and seed as pictures, each with its figures as a table and as a file."""
    nursery = nursery_of(request)
    today, scope = nursery.today(), year_asked(request)
    files: dict[str, Callable[[], HttpResponseBase]] = {
        "load": lambda: exports.LOADS.answer(loads(scope, nursery).each),
        "pickups": lambda: exports.PICKUPS.answer(pickups(scope).each),
        "seed": lambda: exports.SEED_NEEDS.answer(seed_needs(today)),
    }
    if asked := files.get(file_asked(request)):
        return asked()
    carried, fetched, wanted = loads(scope, nursery), pickups(scope), seed_needs(today)
    context = {
        "scope": scope,
        "loads": carried,
        "load_chart": load_chart(carried, today),
        "pickups": fetched,
        "pickup_chart": pickup_chart(fetched, today),
        "needs": by_week(wanted, nursery.first_weekday),
        "buying": buying(wanted),
        "seed_chart": seed_chart(wanted, today, nursery.first_weekday),
        "section": "season",
    }
    return render(request, "production/season_charts.html", context)


def year_asked(request: HttpRequest) -> Scope:
    """The year that holds the day of the address, or that around today."""
    nursery = nursery_of(request)
    form = SeasonForm({"view": "year", "day": request.GET.get("day", "")})
    form.is_valid()
    return form.scope(today=nursery.today(), begins=nursery.first_weekday)


@needs("production.see_work")
@require_safe
def season_sheet_paper(request: HttpRequest) -> HttpResponse:
    """The season from this week on, on paper."""
    nursery = nursery_of(request)
    data = season_sheet_data(today=nursery.today(), nursery=nursery)
    return as_pdf(request, "pdf/season_sheet.html", data, f"season-{nursery.today().isoformat()}.pdf")
