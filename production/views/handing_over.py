"""From ready to gone, for one order line: counting it ready, the notice, the hand-over, its seed lots."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders.access import needs, nursery_of, user_of
from orders.models import OrderLine
from orders.refusals import Refused
from orders.states import MoveRefused
from orders.tables.writing import file_asked

from .. import exports
from ..forms.recording import HandOverForm, ReadyForm
from ..models import Part, SeedLot
from ..queries.trace import trace_line, trace_lot
from ..services.handing_over import hand_over
from ..services.readiness import declare_ready, most_ready, notice_of, send_notice, shares_of, spare_of, stands_of
from .asking import put_on


def _line(pk: int) -> OrderLine:
    lines = OrderLine.objects.select_related("order__customer", "scion", "rootstock", "container")
    return get_object_or_404(lines, pk=pk)


def _onwards(request: HttpRequest, line: OrderLine) -> HttpResponse:
    """To the order for those who may see it; who only works goes back to Today."""
    if user_of(request).has_perm("orders.see_orders"):
        return redirect("order", code=line.order.code)
    return redirect("today")


@needs("production.record_work")
@require_http_methods(["GET", "POST"])
def line_ready(request: HttpRequest, pk: int) -> HttpResponse:
    """How many plants of the line are ready; the notice is the next page's."""
    line = _line(pk)
    initial = {"quantity": line.ready_quantity or min(most_ready(line), line.quantity), "key": uuid.uuid4()}
    form = ReadyForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            declare_ready(
                line=line, quantity=said["quantity"], by=user_of(request), today=nursery_of(request).today(),
                reason=said["reason"], count_id=said["key"],
            )  # fmt: skip
        except (Refused, MoveRefused) as refusal:
            put_on(form, refusal)
        else:
            messages.success(
                request, _("%(n)s plants of %(line)s are ready.") % {"n": said["quantity"], "line": line}
            )
            may_send = user_of(request).has_perm("orders.send_letters") and line.order.customer_id
            return redirect("line_notice", pk=pk) if may_send else _onwards(request, line)
    context = {
        "line": line,
        "form": form,
        "most": most_ready(line),
        "stands": stands_of(line),
        "section": "orders",
    }
    return render(request, "production/line_ready.html", context, status=422 if form.errors else 200)


@needs("orders.send_letters")
@require_http_methods(["GET", "POST"])
def line_notice(request: HttpRequest, pk: int) -> HttpResponse:
    """What the pickup notice will say, a short count first; and the button that sends it."""
    line = _line(pk)
    trouble = ""
    if request.method == "POST":
        try:
            send_notice(line=line, by=user_of(request), today=nursery_of(request).today())
        except Refused as refusal:
            trouble = str(refusal)
        else:
            messages.success(request, _("The pickup notice is on its way."))
            return redirect("order", code=line.order.code)
    nursery = nursery_of(request)
    context = {
        "line": line,
        "notice": notice_of(line),
        "pickup_place": nursery.pickup_place or nursery.address,
        "stands": stands_of(line),
        "trouble": trouble,
        "section": "orders",
    }
    return render(request, "production/line_notice.html", context, status=422 if trouble else 200)


@needs("production.hand_over")
@require_http_methods(["GET", "POST"])
def line_hand_over(request: HttpRequest, pk: int) -> HttpResponse:
    """What was really taken, in part or whole."""
    line = _line(pk)
    spare = spare_of(line)
    form = HandOverForm(request.POST or None, initial={"quantity": line.outstanding, "key": uuid.uuid4()})
    if not spare:
        del form.fields["spare_too"]
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            hand_over(
                line=line, quantity=said["quantity"], by=user_of(request), today=nursery_of(request).today(),
                close_short=said["close_short"], reason=said["reason"], spare_too=said.get("spare_too", False),
                happened_on=said["happened_on"], count_id=said["key"],
            )  # fmt: skip
        except (Refused, MoveRefused) as refusal:
            put_on(form, refusal)
        else:
            messages.success(request, _hand_over_words(line, said["quantity"]))
            return _onwards(request, line)
    context = {
        "line": line,
        "form": form,
        "spare": spare,
        "shares": shares_of(line),
        "stands": stands_of(line),
        "section": "orders",
    }
    return render(request, "production/line_hand_over.html", context, status=422 if form.errors else 200)


def _hand_over_words(line: OrderLine, quantity: int) -> str:
    words = _("%(n)s handed over.") % {"n": quantity}
    if line.state == OrderLine.State.COLLECTED:
        return words + " " + _("The line is collected; it can be billed.")
    return words + " " + _("%(n)s are still to come.") % {"n": line.quantity - line.collected_quantity}


@needs("production.see_work")
@require_safe
def line_trace(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The seed lots that a line's plants were grown from."""
    line = _line(pk)
    if file_asked(request):
        return exports.LINE_CAME.answer(trace_line(line))
    parts = Part.objects.filter(allocations__line=line).select_related("batch")
    context = {"line": line, "backs": trace_line(line), "parts": parts, "section": "orders"}
    return render(request, "production/line_trace.html", context)


@needs("production.see_work")
@require_safe
def lot_trace(request: HttpRequest, pk: int) -> HttpResponseBase:
    """Every customer that plants of a seed lot went, or are to go, to."""
    lot = get_object_or_404(SeedLot.objects.select_related("variety", "customer"), pk=pk)
    if file_asked(request):
        return exports.LOT_WENT.answer(trace_lot(lot))
    return render(
        request, "production/lot_trace.html", {"lot": lot, "found": trace_lot(lot), "section": "nursery"}
    )
