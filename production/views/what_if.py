"""What if: the season seen otherwise beside the season as it is, and saved only when asked."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from orders.access import needs, nursery_of, user_of
from orders.forms.accounts import add_refusal
from orders.refusals import Refused

from ..forms.what_if import WhatIfForm
from ..season.compared import compared
from ..services import what_if


@needs("production.replan")
@require_http_methods(["GET", "POST"])
def season_what_if(request: HttpRequest) -> HttpResponse:
    """Look by address, so that it can be kept and gone back to; save by form."""
    nursery = nursery_of(request)
    today = nursery.today()
    asked = request.POST if request.method == "POST" else request.GET
    looks = request.method == "POST" or "look" in asked
    form = WhatIfForm(asked if looks else None, initial=asked.dict(), today=today)
    context: dict[str, Any] = {"form": form, "section": "season"}
    if not looks or not form.is_valid():
        return _page(request, context, 422 if looks else 200)
    try:
        if request.method == "POST":
            what_if.save(form.changes, by=user_of(request), today=today)
            messages.success(request, _("It is saved. What it concerns is planned again in a moment."))
            return redirect("season")
        tried = what_if.look(form.changes, today=today)
    except Refused as refused:
        add_refusal(form, refused)
        return _page(request, context, 422)
    context |= {"tried": tried, "compared": compared(tried, nursery.first_weekday)}
    return _page(request, context, 200)


def _page(request: HttpRequest, context: dict[str, Any], status: int) -> HttpResponse:
    return render(request, "production/season_what_if.html", context, status=status)
