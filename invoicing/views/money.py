"""The money page: what to bill, what is owed; all papers; how numbers look."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders.access import needs, nursery_of, user_of
from orders.forms.accounts import add_refusal
from orders.refusals import Refused
from orders.tables.writing import ListFile, file_asked

from .. import exports, numbers, queries
from ..forms import SeriesForm
from ..models import Invoice

A_PAGE = 50
RECENT = 10


@needs("invoicing.see_money")
@require_safe
def money(request: HttpRequest) -> HttpResponseBase:
    """What to bill, what is owed (overdue first), what is to come or to give back, what came in."""
    nursery = nursery_of(request)
    today = nursery.today()
    if asked := _LISTS.get(file_asked(request)):
        file, rows = asked(today)
        return file.answer(rows)
    to_bill, owed = queries.to_bill(), _page(request, "owed", queries.owed())
    too_much = _page(request, "paid-too-much", queries.paid_too_much())
    context = {
        "to_bill": _page(request, "to-bill", to_bill),
        "to_bill_sum": sum((one.gross for one in to_bill.rows), queries.ZERO),
        "owed_page": owed,
        "owed": [(invoice, queries.invoice_state(invoice, today)) for invoice in owed],
        "in_all": queries.owed_in_all(today),
        "deposits_to_come": _page(request, "deposits", queries.deposits_to_come()),
        "too_much_page": too_much,
        "paid_too_much": [(invoice, -invoice.balance) for invoice in too_much],
        "deposits_left_over": _page(request, "left-over", queries.deposits_left_over()),
        "payments": queries.payments()[:RECENT],
        "some": Invoice.objects.exists(),
    }
    return render(request, "invoicing/money.html", context)


def _page(request: HttpRequest, name: str, rows: Sequence[Any] | QuerySet[Any]) -> Page[Any]:
    """A page of one of several lists: each has its own number in the address."""
    page: Page[Any] = Paginator(rows, A_PAGE).get_page(request.GET.get(name))
    return page


_LISTS: dict[str, Callable[[date], tuple[ListFile, Iterable[Any]]]] = {
    "to-bill": lambda _today: (exports.TO_BILL, queries.to_bill()),
    "owed": lambda today: (exports.papers_file(_("owed"), today), queries.owed()),
    "payments": lambda _today: (exports.PAYMENTS, queries.payments()),
    "deposits": lambda _today: (exports.DEPOSITS, queries.deposits_to_come()),
}


@needs("invoicing.see_money")
@require_safe
def invoice_list(request: HttpRequest) -> HttpResponseBase:
    """All invoices and credit notes, found by number, customer or order."""
    words, today = request.GET.get("q", ""), nursery_of(request).today()
    found = queries.find_papers(words)
    if file_asked(request):
        return exports.papers_file(_("invoices"), today).answer(found.iterator(500))
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    rows = [(one, queries.invoice_state(one, today)) for one in page.object_list]
    return render(request, "invoicing/papers.html", {"page": page, "rows": rows, "words": words})


@needs("orders.edit_nursery", "invoicing.issue_invoices")
@require_http_methods(["GET", "POST"])
def number_series(request: HttpRequest) -> HttpResponse:
    """How this year's numbers look, until the first is given."""
    year = nursery_of(request).today().year
    chosen = request.POST.get("kind", "")
    rows = []
    for kind in Invoice.Kind:
        series = numbers.coming(kind, year=year)
        form = SeriesForm(request.POST if chosen == kind else None, instance=series, prefix=kind)
        if chosen == kind and form.is_valid() and _choose(request, form, kind, year):
            return redirect("number_series")
        rows.append((kind, numbers.coming(kind, year=year), form))
    return render(request, "invoicing/numbers.html", {"rows": rows, "year": year})


def _choose(request: HttpRequest, form: SeriesForm, kind: Any, year: int) -> bool:
    try:
        series = numbers.set_up(kind=kind, year=year, by=user_of(request), **form.cleaned_data)
    except Refused as refusal:
        add_refusal(form, refusal)  # type: ignore[arg-type]
        return False
    messages.success(request, _("The first number will be %(number)s.") % {"number": series})
    return True
