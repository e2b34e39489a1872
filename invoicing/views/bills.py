"""An order's money: its panel, billing what was handed over, a deposit before the bill."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders import wording
from orders.access import needs, nursery_of, user_of
from orders.forms.accounts import add_refusal
from orders.models import Order
from orders.refusals import Refused

from .. import queries, services
from ..forms import BillForm, PaymentForm


def _order(code: str) -> Order:
    """A customer's order; our own crop has no money."""
    order: Order = get_object_or_404(Order.objects.select_related("customer"), code=code)
    if order.own_crop:
        raise Http404
    return order


@needs("invoicing.see_money")
@require_safe
def order_money_panel(request: HttpRequest, code: str) -> HttpResponse:
    """How the order's money stands: swapped into the order page, or a page of its own."""
    context = {"money": queries.order_money(_order(code))}
    part = "#panel" if getattr(request, "htmx", False) else ""
    return render(request, f"invoicing/order_money.html{part}", context)


@needs("invoicing.issue_invoices")
@require_http_methods(["GET", "POST"])
def order_bill(request: HttpRequest, code: str) -> HttpResponse:
    """Bill what was handed over; the sum follows as quantities and prices change."""
    order, nursery = _order(code), nursery_of(request)
    posted = request.POST if request.method == "POST" else None
    form = BillForm(posted, lines=queries.lines_to_bill().filter(order=order))
    only_sum = getattr(request, "htmx", False) or request.POST.get("action") == "sum"
    if posted and form.is_valid() and not only_sum:
        try:
            invoice = services.issue(
                order=order,
                quantities=form.each("quantity"),
                prices=form.each("unit_price"),
                tax_rates=form.each("tax_rate"),
                supplied_on=form.cleaned_data["supplied_on"],
                by=user_of(request),
                today=nursery.today(),
                key=form.cleaned_data["key"],
            )
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, _("Invoice %(number)s is made.") % {"number": invoice.number})
            return redirect("invoice", invoice.number)
    part = "#sum" if getattr(request, "htmx", False) else ""
    return render(request, f"invoicing/bill.html{part}", _bill_context(order, form, nursery))


def _bill_context(order: Order, form: BillForm, nursery: Any) -> dict[str, Any]:
    sums = None
    if not form.is_bound or form.is_valid():
        sums = form.totals(tax_included=nursery.prices_include_tax)
    in_hand = max(queries.deposits_in_hand([order])[order.pk], queries.ZERO)
    deposit = min(in_hand, sums.gross) if sums else queries.ZERO
    due = sums.gross - deposit if sums else queries.ZERO
    return {"section": "money", "order": order, "form": form, "sums": sums, "deposit": deposit, "due": due}


@needs("invoicing.record_payments")
@require_http_methods(["GET", "POST"])
def order_deposit(request: HttpRequest, code: str) -> HttpResponse:
    """Money for an order before its invoice, or what is left of it given back."""
    order, nursery = _order(code), nursery_of(request)
    money = queries.order_money(order)
    today = nursery.today()
    asked = max(money.deposit_asked - money.deposit_received, queries.ZERO)
    spare = money.deposit_in_hand if queries.is_over(order) and not money.to_bill else queries.ZERO
    posted = request.POST if request.method == "POST" else None
    form = PaymentForm(posted, today=today, due=asked, spare=spare)
    if posted and form.is_valid():
        try:
            payment = services.record_payment(order=order, by=user_of(request), today=today, **form.values())
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            amount = wording.money(payment.amount, nursery.currency)
            messages.success(
                request, _("%(amount)s is recorded for order %(code)s.") % {"amount": amount, "code": code}
            )
            return redirect("order_money_panel", code)
    context = {"section": "money", "form": form, "order": order, "money": money, "asked": asked, "spare": spare}
    return render(request, "invoicing/deposit.html", context)
