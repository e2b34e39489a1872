"""The season as a file: given away, and one that somebody brings looked at. Nothing is stored."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_http_methods, require_safe

from orders.access import needs, nursery_of
from orders.refusals import ManyRefused

from ..answers import Card, card_of_answer, conflict_sentence
from ..forms.season_files import SeasonFileForm
from ..planning.season_file import write_plan, write_season
from ..services.season_files import look_at, running_season


@needs("production.see_work")
@require_safe
def season_file(request: HttpRequest) -> HttpResponse:
    """The running season, as a file to keep."""
    nursery = nursery_of(request)
    today = nursery.today()
    return json_file(
        write_season(running_season(today=today, nursery=nursery)), f"season-{today.isoformat()}.json"
    )


@dataclass(frozen=True, slots=True)
class Answered:
    label: str
    card: Card


@needs("production.see_work")
@require_http_methods(["GET", "POST"])
def season_try(request: HttpRequest) -> HttpResponse:
    """What a season file would get: its answers, or its plan as a file."""
    if request.method == "GET":
        return render(request, "production/season_try.html", {"form": SeasonFileForm()})
    form = SeasonFileForm(request.POST, request.FILES)
    if not form.is_valid():
        return render(request, "production/season_try.html", {"form": form}, status=422)
    try:
        looked = look_at(form.cleaned_data["file"])
    except ManyRefused as refused:
        context: dict[str, object] = {"form": SeasonFileForm(), "refusals": refused.refusals}
        return render(request, "production/season_try.html", context, status=422)
    if request.POST.get("action") == "plan":
        return json_file(write_plan(looked.plan), f"plan-{looked.plan.today.isoformat()}.json")
    season = looked.file.season
    answered = [
        Answered(answer.wish.label, card_of_answer(number, answer, today=season.today, season=season))
        for number, answer in enumerate(looked.answers, start=1)
    ]
    told = [conflict_sentence(conflict) for conflict in looked.plan.conflicts]
    context = {"form": SeasonFileForm(), "looked": looked, "answered": answered, "conflicts": told}
    return render(request, "production/season_try.html", context)


def json_file(text: str, name: str) -> HttpResponse:
    headers = {"Content-Disposition": content_disposition_header(True, name) or "attachment"}
    return HttpResponse(text, content_type="application/json", headers=headers)
