"""What the plan says of one order line, and confirming an order's lines."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from orders import queries, states
from orders.access import needs
from orders.models import Nursery, Order, OrderLine
from orders.posted import words_of
from orders.refusals import ManyRefused, Refused
from orders.strand import Strand

from .. import bridge
from ..models import Part
from ..services import promise
from ..services.easing import MOVABLE
from ..services.readiness import notice_of
from ..strands import strand_of
from .desk import cards_for, sees_costs


@dataclass(frozen=True, slots=True)
class PartShown:
    row: Part
    strand: Strand


@needs("orders.see_orders")
@require_safe
def line_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """The plan of a promised line as it stands; for a line only asked for, the answer as it would be now."""
    line = get_object_or_404(queries.lines(), pk=pk)
    nursery = Nursery.current()
    today = nursery.today()
    card = None
    if line.state == states.ASKED:
        card = cards_for([line], nursery=nursery, today=today, costs=sees_costs(request))[0]
    parts = [
        PartShown(
            row,
            strand_of(
                bridge.part_plan_of(row),
                method=row.batch.method,
                pickup=row.pickup,
                collection=line.collection_days,
                today=today,
            ),
        )
        for row in bridge.parts_of(line)
    ]
    ready = line.state == states.READY
    nights_run = line.kind == OrderLine.Kind.ROOM and line.state == states.GROWING
    context = {
        "line": line,
        "card": card,
        "parts": parts,
        "notice": notice_of(line) if ready and line.outstanding and not line.order.own_crop else None,
        "may_go": ready or nights_run,
        "may_move": line.state in MOVABLE,
    }
    template = "production/line_plan.html" + ("#panel" if request.headers.get("HX-Request") else "")
    return render(request, template, context)


@needs("orders.confirm_orders")
@require_POST
def confirm(request: HttpRequest, code: str) -> HttpResponse:
    """Take the room and confirm every asked line of the order, all or none."""
    order = get_object_or_404(Order, code=code)
    try:
        promise.accept(
            order=order,
            by=request.user,  # type: ignore[arg-type]
            today=Nursery.current().today(),
            over_conflict=words_of(request, "over_conflict"),
        )
    except Refused as refusal:
        for each in refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]:
            messages.error(request, str(each))
    else:
        messages.success(request, _("%(order)s is confirmed. The confirmation is being made.") % {"order": order})
    return redirect("order", code=code)
