"""Protocols: the list, one with its stages, changing it, copying it."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count, Prefetch
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders import history
from orders.access import EDIT_NURSERY, needs, nursery_of, user_of
from orders.forms.accounts import add_refusal
from orders.refusals import ManyRefused, Refused
from orders.tables.writing import file_asked
from orders.units import UNITS

from .. import exports
from ..forms.protocols import CopyForm, ProtocolForms
from ..models import Protocol, ProtocolStage
from ..services import protocols as service

SHELF = {"section": "nursery", "shelf": "protocols"}


@needs(EDIT_NURSERY)
@require_safe
def protocols(request: HttpRequest) -> HttpResponseBase:
    healing = ProtocolStage.objects.filter(kind=ProtocolStage.Kind.HEAL)
    rows = (
        Protocol.objects.filter(current=True)
        .select_related("crop")
        .annotate(batch_count=Count("batches"))
        .prefetch_related(Prefetch("stages", queryset=healing, to_attr="healing"))
    )
    if file_asked(request):
        return exports.PROTOCOLS.answer(rows)
    return render(request, "production/nursery/protocols.html", SHELF | {"rows": rows})


@needs(EDIT_NURSERY)
@require_safe
def protocol(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Protocol.objects.select_related("crop"), pk=pk)
    unit = UNITS["degrees"][nursery_of(request).temperature_unit]
    stages = [
        {"stage": stage, "degrees": None if stage.temperature is None else round(unit.shown(stage.temperature), 1)}
        for stage in shown.stages.select_related("container").prefetch_related(
            "works__skill", "works__helper_skill"
        )
    ]
    context = SHELF | {
        "protocol": shown,
        "stages": stages,
        "unit": unit.sign,
        "batches": shown.batches.count(),
        "versions": Protocol.objects.filter(crop=shown.crop, method=shown.method).exclude(pk=shown.pk),
        "copy": CopyForm(),
        "history": history.of(shown)[:20],
    }
    return render(request, "production/nursery/protocol.html", context)


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def edit_protocol(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Protocol.objects.select_related("crop"), pk=pk)
    forms = ProtocolForms(
        request.POST if request.method == "POST" else None, protocol=shown, nursery=nursery_of(request)
    )
    refusals: list[Refused] = []
    if request.method == "POST" and forms.is_valid():
        try:
            revised = service.revise(
                protocol=Protocol.objects.get(pk=pk), draft=forms.draft(), by=user_of(request)
            )
        except Refused as refusal:
            refusals = refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]
        else:
            messages.success(request, _saved(revised, pk))
            return redirect("protocol", pk=revised.pk)
    context = SHELF | {"protocol": shown, "forms": forms, "refusals": refusals, "batches": shown.batches.count()}
    status = 422 if request.method == "POST" else 200
    return render(request, "production/nursery/protocol_edit.html", context, status=status)


def _saved(revised: Protocol, before: int) -> str:
    if revised.pk == before:
        return _("Saved. The next promise is made with it.")
    return _(
        "Saved as version %(version)d. The next promise is made with it; what is planned keeps the version before."
    ) % {"version": revised.version}


@needs(EDIT_NURSERY)
@require_http_methods(["POST"])
def copy_protocol(request: HttpRequest, pk: int) -> HttpResponse:
    form = CopyForm(request.POST)
    if form.is_valid():
        try:
            made = service.copy(
                protocol=get_object_or_404(Protocol, pk=pk), by=user_of(request), **form.cleaned_data
            )
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, _("%(protocol)s is made; change what differs.") % {"protocol": made})
            return redirect("edit_protocol", pk=made.pk)
    messages.error(request, " ".join(str(error) for errors in form.errors.values() for error in errors))
    return redirect("protocol", pk=pk)
