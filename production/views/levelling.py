"""Levelling the season from its page: started, watched, stopped, and its moves taken."""

from __future__ import annotations

from math import ceil
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from orders.access import needs, nursery_of, user_of
from orders.refusals import Refused
from orders.tables.writing import file_asked

from .. import exports
from ..models import SeasonLevelling
from ..queries.levelled import moves_of
from ..services import levelling


@needs("production.replan")
@require_http_methods(["GET", "POST"])
def season_level(request: HttpRequest) -> HttpResponseBase:
    """The newest run; posting starts another."""
    if request.method == "POST":
        try:
            levelling.start(by=user_of(request), today=nursery_of(request).today(), leave=_left_alone(request))
        except Refused as refused:
            messages.error(request, str(refused))
        return redirect("season_level")
    run = levelling.newest()
    moves = moves_of(run) if run else []
    if file_asked(request):
        return exports.MOVES.answer(moves)
    context = {
        "run": run,
        "moves": [move for move in moves if not move["refused"]],
        "refused": [move for move in moves if move["refused"]],
        "open": len(_open(moves)),
        "longest": ceil(levelling.LONGEST / 60),
    }
    return render(request, "production/season_level.html", context)


def _open(moves: list[dict[str, Any]]) -> list[str]:
    """The keys of the moves that wait for a word."""
    return [move["key"] for move in moves if not move["taken"] and not move["refused"]]


def _left_alone(request: HttpRequest) -> list[str]:
    """The lines whose moves were refused last time, if they are to stay where they are."""
    last = levelling.newest() if request.POST.get("leave_refused") else None
    return [move["key"] for move in moves_of(last) if move["refused"]] if last else []


@needs("production.replan")
@require_POST
def season_level_stop(request: HttpRequest, pk: int) -> HttpResponse:
    levelling.stop(get_object_or_404(SeasonLevelling, pk=pk))
    return redirect("season_level")


@needs("production.replan")
@require_POST
def season_level_refuse(request: HttpRequest, pk: int) -> HttpResponse:
    """Set a move aside, or take it back into the list."""
    run = get_object_or_404(SeasonLevelling, pk=pk)
    back = request.POST.getlist("back")
    try:
        levelling.refuse(run, keys=back or request.POST.getlist("refuse"), refused=not back)
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("season_level")


@needs("production.replan")
@require_POST
def season_level_take(request: HttpRequest, pk: int) -> HttpResponse:
    """Carry out the ticked moves, or all, with what they need. Letters to those whom it concerns are drafts."""
    run = get_object_or_404(SeasonLevelling, pk=pk)
    try:
        taken = levelling.take(
            run,
            keys=_open(moves_of(run)) if "all" in request.POST else request.POST.getlist("moves"),
            by=user_of(request),
            today=nursery_of(request).today(),
        )
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        names = get_text_list(taken, _("and"))
        messages.success(
            request,
            _("Moved: %(names)s. Letters to whom it concerns are drafted; calls are on the list.")
            % {"names": names},
        )
    return redirect("season_level")
