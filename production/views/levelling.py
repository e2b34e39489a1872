"""Levelling the season from its page: started, watched, stopped, and its moves taken."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.text import get_text_list
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from orders.access import needs
from orders.models import Nursery
from orders.refusals import Refused

from ..models import SeasonLevelling
from ..services import levelling


@needs("production.replan")
@require_http_methods(["GET", "POST"])
def season_level(request: HttpRequest) -> HttpResponse:
    """The newest run; posting starts another."""
    if request.method == "POST":
        try:
            levelling.start(by=request.user, today=Nursery.current().today())  # type: ignore[arg-type]
        except Refused as refused:
            messages.error(request, str(refused))
        return redirect("season_level")
    return render(request, "production/season_level.html", {"run": levelling.newest()})


@needs("production.replan")
@require_POST
def season_level_stop(request: HttpRequest, pk: int) -> HttpResponse:
    levelling.stop(get_object_or_404(SeasonLevelling, pk=pk))
    return redirect("season_level")


@needs("production.replan")
@require_POST
def season_level_take(request: HttpRequest, pk: int) -> HttpResponse:
    """Carry out the ticked moves with all that they need."""
    run = get_object_or_404(SeasonLevelling, pk=pk)
    try:
        taken = levelling.take(
            run,
            keys=request.POST.getlist("moves"),
            by=request.user,  # type: ignore[arg-type]
            today=Nursery.current().today(),
        )
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        names = get_text_list(taken, _("and"))
        messages.success(request, _("Moved: %(names)s.") % {"names": names})
    return redirect("season_level")
