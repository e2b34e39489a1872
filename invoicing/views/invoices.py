"""One invoice or credit note: its rows, its payments, its paper, its corrections."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders import jobs, wording
from orders.access import needs, nursery_of, user_of
from orders.forms.accounts import add_refusal
from orders.models import Job
from orders.refusals import Refused

from .. import papers, queries, services
from ..forms import CreditForm, PaymentForm, ReasonForm


def _paper(number: str) -> queries.Paper:
    found: queries.Paper = get_object_or_404(queries.papers(), number=number)
    return found


def _invoice(number: str) -> queries.Paper:
    """An invoice; a credit note is not paid, reminded of or credited."""
    found: queries.Paper = get_object_or_404(queries.invoices(), number=number)
    return found


@needs("invoicing.see_money")
@require_safe
def invoice(request: HttpRequest, number: str) -> HttpResponse:
    """What stands on it, how it is paid, what corrects it, and what may be done."""
    found, today = _paper(number), nursery_of(request).today()
    job = papers.job_of(found)
    context = {
        "invoice": found,
        "state": queries.invoice_state(found, today),
        "lines": found.lines.all(),
        "tax_rows": found.tax_rows.all(),
        "payments": queries.payments().filter(invoice=found),
        "credit_notes": found.credit_notes.order_by("id"),
        "letters": papers.letters_of(found),
        "document": found.document,
        "job": job,
        "failed": job is not None and job.state == Job.State.FAILED,
        "give_back": -found.balance if found.balance < 0 else None,
        "may_credit": not found.is_credit_note and any(queries.left_to_credit(found).values()),
        "overdue": _is_overdue(found, today),
    }
    return render(request, "invoicing/invoice.html", context)


def _is_overdue(found: queries.Paper, today: date) -> bool:
    return found.balance > 0 and found.due_on is not None and found.due_on < today


@needs("invoicing.issue_invoices")
@require_POST
def paper_again(request: HttpRequest, number: str) -> HttpResponse:
    """Try again to make a paper that could not be made."""
    if job := papers.job_of(_paper(number)):
        jobs.retry(job)
        messages.success(request, _("The paper is tried again."))
    return redirect("invoice", number)


@needs("invoicing.issue_invoices")
@require_http_methods(["GET", "POST"])
def credit(request: HttpRequest, number: str) -> HttpResponse:
    """Take back an invoice or part of it."""
    found = _invoice(number)
    posted = request.POST if request.method == "POST" else None
    form = CreditForm(posted, left=queries.left_to_credit(found))
    if posted and form.is_valid():
        try:
            note = services.credit(
                invoice=found,
                quantities=form.quantities(),
                reason=form.cleaned_data["reason"],
                bill_again=form.cleaned_data["bill_again"],
                by=user_of(request),
                today=nursery_of(request).today(),
                key=form.cleaned_data["key"],
            )
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, _("Credit note %(number)s is made.") % {"number": note.number})
            return redirect("invoice", note.number)
    return render(request, "invoicing/credit.html", {"invoice": found, "form": form})


@needs("invoicing.record_payments")
@require_http_methods(["GET", "POST"])
def payment(request: HttpRequest, number: str) -> HttpResponse:
    """Record what came in, in whole or in part; or what was given back of too much."""
    found, today = _invoice(number), nursery_of(request).today()
    due, spare = max(found.balance, queries.ZERO), max(-found.balance, queries.ZERO)
    posted = request.POST if request.method == "POST" else None
    form = PaymentForm(posted, today=today, due=due, spare=spare)
    if posted and form.is_valid():
        try:
            made = services.record_payment(invoice=found, by=user_of(request), today=today, **form.values())
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            words = {"amount": wording.money(made.amount, found.currency), "number": number}
            messages.success(request, _("%(amount)s is recorded for invoice %(number)s.") % words)
            return redirect("invoice", number)
    return render(request, "invoicing/payment.html", {"invoice": found, "form": form, "due": due, "spare": spare})


@needs("invoicing.record_payments")
@require_POST
def remind(request: HttpRequest, number: str) -> HttpResponse:
    """Write a reminder, at most one a day."""
    try:
        letter = services.remind(invoice=_invoice(number), by=user_of(request), today=nursery_of(request).today())
    except Refused as refusal:
        messages.error(request, str(refusal))
    else:
        said = _("A reminder goes to %(to)s.") if letter.to else _("There is no address: ring the customer up.")
        messages.success(request, said % {"to": letter.to})
    return redirect("invoice", number)


@needs("invoicing.record_payments")
@require_http_methods(["GET", "POST"])
def take_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Undo a payment that was entered by mistake; both rows stay."""
    found = get_object_or_404(queries.payments(), pk=pk)
    posted = request.POST if request.method == "POST" else None
    form = ReasonForm(posted)
    if posted and form.is_valid():
        try:
            services.take_back_payment(
                payment=found, by=user_of(request), today=nursery_of(request).today(), **form.cleaned_data
            )
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            messages.success(request, _("The payment is taken back."))
            return _back_to(found)
    return render(request, "invoicing/take_back.html", {"payment": found, "form": form})


def _back_to(found: Any) -> HttpResponse:
    if found.invoice:
        return redirect("invoice", found.invoice.number)
    return redirect("order_money_panel", found.order.code)
