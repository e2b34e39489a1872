"""Plants that stand already on the first day: one form."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders.access import needs, nursery_of, user_of
from orders.refusals import Refused
from orders.states import MoveRefused

from ..forms.named import NAMED
from ..forms.standing import StandingForm
from ..services.standing import enter_standing
from .asking import put_on


@needs("production.replan")
@require_http_methods(["GET", "POST"])
def standing(request: HttpRequest) -> HttpResponse:
    form = StandingForm(request.POST or None, initial={"key": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            part = enter_standing(
                what=form.what(), by=user_of(request), today=nursery_of(request).today(), line=said["line"],
                own_crop=said["own_crop"], key=said["key"],
            )  # fmt: skip
        except (Refused, MoveRefused) as refusal:
            put_on(form, refusal)
        else:
            messages.success(request, _("%(part)s stands in the plan now.") % {"part": part})
            return redirect("batch", code=part.batch.code)
    context = {"form": form, "section": "today", "offered": form.offered()}
    return render(request, "production/standing.html", context, status=422 if form.errors else 200)


@needs("production.replan")
@require_safe
def suggest(request: HttpRequest, kind: str) -> HttpResponse:
    """Names of lines or seed lots for the list of a field, while one types in it."""
    if kind not in NAMED:
        raise Http404
    words = " ".join(request.GET.dict().values()).replace("\0", "")
    return render(request, "production/_names.html", {"names": NAMED[kind].names(words)})
