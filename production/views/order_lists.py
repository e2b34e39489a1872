"""A list of orders: brought, checked, confirmed; and the rows to mend taken away again."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders.access import needs, nursery_of, user_of
from orders.refusals import ManyRefused, Refused
from orders.tables.writing import csv_answer, file_asked, file_headers

from .. import exports
from ..forms.order_lists import OrderListForm, TakeListForm
from ..models import OrderList
from ..order_list import files
from ..order_list.columns import COLUMNS
from ..queries import order_lists as queries
from ..services import list_taking, order_lists

HERE = {"section": "orders"}
A_PAGE = 10
TAKES = ("orders.take_orders", "orders.confirm_orders")


@needs(*TAKES)
@require_http_methods(["GET", "POST"])
def take_list(request: HttpRequest) -> HttpResponseBase:
    """Bring a list; posting its file has it checked."""
    if file_asked(request):
        return exports.ORDER_LISTS.answer(queries.newest())
    form = OrderListForm(request.POST, request.FILES) if request.method == "POST" else OrderListForm()
    refusals: list[Refused] = []
    if form.is_bound and form.is_valid():
        sent = form.cleaned_data["file"]
        try:
            kept = order_lists.start(name=sent.name, content=sent.read(), by=user_of(request))
        except Refused as refused:
            refusals = refused.refusals if isinstance(refused, ManyRefused) else [refused]
        else:
            return redirect("taken_list", pk=kept.pk)
    lists = Paginator(queries.newest(), A_PAGE).get_page(request.GET.get("earlier"))
    context = {"form": form, "refusals": refusals, "columns": COLUMNS, "lists": lists, **HERE}
    status = 422 if form.errors or refusals else 200
    return render(request, "production/order_list_bring.html", context, status=status)


@needs(*TAKES)
@require_safe
def take_list_empty(request: HttpRequest, kind: str) -> HttpResponseBase:
    """An empty list with an example, as CSV or as a workbook."""
    today = nursery_of(request).today()
    if kind == "csv":
        return csv_answer(_("orders"), files.heads(), [files.example(today)])
    if kind == "xlsx":
        headers = file_headers(_("orders") + ".xlsx")
        return HttpResponse(files.empty_sheet(today), content_type=files.SPREADSHEET, headers=headers)
    raise Http404


@needs(*TAKES)
@require_safe
def taken_list(request: HttpRequest, pk: int) -> HttpResponse:
    """What was found in a list, and what became of it."""
    return _page(request, get_object_or_404(OrderList, pk=pk), TakeListForm())


@needs(*TAKES)
@require_POST
def taken_list_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    kept = get_object_or_404(OrderList, pk=pk)
    form = TakeListForm(request.POST)
    if not form.is_valid():
        return _page(request, kept, form, status=422)
    try:
        list_taking.confirm(kept, by=user_of(request), others=form.cleaned_data["others"])
    except Refused as refused:
        messages.error(request, str(refused))
    return redirect("taken_list", pk=kept.pk)


@needs(*TAKES)
@require_safe
def taken_list_rows(request: HttpRequest, pk: int) -> HttpResponseBase:
    """The rows that were not taken, as they were brought, with what is to mend."""
    head, rows = files.to_mend(get_object_or_404(OrderList, pk=pk))
    return csv_answer(_("rows-to-mend"), head, rows)


def _page(request: HttpRequest, kept: OrderList, form: TakeListForm, status: int = 200) -> HttpResponse:
    context: dict[str, Any] = {"list": kept, "form": form, "found": queries.Found.of(kept), **HERE}
    return render(request, "production/order_list.html", context, status=status)
