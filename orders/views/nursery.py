"""The nursery's own settings."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from .. import history
from ..access import EDIT_NURSERY, needs, user_of
from ..forms.nursery import NurserySettings
from ..forms.records import RecordEdit
from ..models import Nursery


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def nursery_settings(request: HttpRequest) -> HttpResponse:
    nursery = Nursery.current()
    data = request.POST if request.method == "POST" else None
    edit = RecordEdit(NurserySettings(), nursery, nursery=nursery, data=data)
    if data is not None and edit.is_valid():
        edit.save(by=user_of(request))
        messages.success(request, _("Saved. Papers already issued stay as they are."))
        return redirect("nursery_settings")
    context = {
        "section": "nursery",
        "shelf": "nursery_settings",
        "form": edit.form,
        "history": history.of(Nursery(pk=1))[:20],
    }
    return render(request, "orders/nursery/settings.html", context, status=422 if data is not None else 200)
