"""The list of orders, and one order with all that was asked, promised, told and paid."""

from __future__ import annotations

from collections.abc import Iterator

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import urlencode
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from .. import exports, history, queries, services, states
from ..access import needs
from ..holding import quote_key
from ..links import private_link
from ..models import Document, Job, Order, OrderLine
from ..posted import words_of
from ..refusals import Refused
from ..tables.writing import file_asked

A_PAGE = 50


@needs("orders.see_orders")
@require_safe
def order_list(request: HttpRequest) -> HttpResponseBase:
    """Who wants what when, and how does each stand."""
    state = request.GET.get("state", "")
    if state not in states.STATES:
        state = ""
    words = request.GET.get("q", "").strip()
    found = queries.find_orders(words=words, state=state)
    if file_asked(request):
        return exports.ORDERS.answer(line for order in found.iterator(500) for line in _lines_of(order))
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    counts = queries.state_counts()
    context = {
        "page": page,
        "state": state,
        "words": words,
        "keep": f"{urlencode({'q': words, 'state': state})}&" if words or state else "",
        "states": [(code, label, counts[code]) for code, label in OrderLine.State.choices if counts[code]],
    }
    return render(request, "orders/order_list.html", context)


def _lines_of(order: Order) -> Iterator[OrderLine]:
    """Its lines, each with the order that it was read with."""
    for line in order.lines.all():
        line.order = order
        yield line


@needs("orders.see_orders")
@require_safe
def order_detail(request: HttpRequest, code: str) -> HttpResponse:
    """One order: asked for, strand, expected count, papers, letters, money, history."""
    order = get_object_or_404(queries.orders(), code=code)
    lines = list(order.lines.all())
    documents = list(order.documents.defer("content"))
    held = [line for line in lines if line.state == states.HELD]
    quoted = any(document.kind == Document.Kind.QUOTE for document in documents)
    context = {
        "order": order,
        "lines": lines,
        "summary": queries.summary(order),
        "asked": [line for line in lines if line.state == states.ASKED],
        "held": held,
        "held_until": min((line.hold_until for line in lines if line.hold_until), default=None),
        "link": "" if order.own_crop else private_link(order),
        "quoted": quoted,
        "quote_outdated": quoted and held and not Job.objects.filter(key=quote_key(order, held)).exists(),
        "promised": any(line.state in states.PROMISED for line in lines),
        "documents": documents,
        "letters": order.letters.all(),
        "history": history.of(order),
    }
    return render(request, "orders/order_detail.html", context)


@needs("orders.take_orders")
@require_POST
def line_end(request: HttpRequest, pk: int) -> HttpResponse:
    """Let an asked line go, or cancel a promised one; the reason is kept."""
    line = get_object_or_404(queries.lines(), pk=pk)
    try:
        services.end(line=line, by=request.user, why=words_of(request, "why"))  # type: ignore[arg-type]
        messages.success(
            request, _("Line %(n)s is %(state)s.") % {"n": line.number, "state": line.get_state_display()}
        )
    except (Refused, states.MoveRefused) as refusal:
        messages.error(request, str(refusal))
    return redirect("order", code=line.order.code)
