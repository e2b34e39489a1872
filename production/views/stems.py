"""How many pairs the two sides of a batch will give."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from orders.access import needs
from orders.refusals import Refused

from ..forms.stems import FORMS, form_of
from ..queries.stem_pairs import StemAnswer, grafted_part, pairs_of
from .asking import put_on

WAYS = {
    "sown": _("By sowing days"),
    "measured": _("By measured stems"),
    "spread": _("By mean and spread"),
}


@needs("production.see_work")
@require_safe
def batch_stems(request: HttpRequest, code: str, number: int) -> HttpResponse:
    """The form and, once it is sent, the answer; by sowing days it is answered at once from what the batch has."""
    part = grafted_part(code, number)
    if part is None:
        raise Http404
    by = request.GET.get("by", "sown")
    by = by if by in FORMS else "sown"
    form = form_of(by, part, request.GET)
    answer: StemAnswer | None = None
    if form.is_valid():
        try:
            answer = pairs_of(by, form.cleaned_data, part)
        except Refused as refusal:
            put_on(form, refusal)
    context = {
        "batch": part.batch, "part": part, "by": by, "ways": WAYS.items(), "form": form, "answer": answer,
        "section": "today",
    }  # fmt: skip
    status = 422 if form.is_bound and answer is None else 200
    return render(request, "production/batch_stems.html", context, status=status)
