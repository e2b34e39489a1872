"""The customer's page behind the private link: the order in plain words, its papers, saying yes to what is held.

No account and no sign-in: who has the link may read. Nobody else is told that there is such an order.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import wraps
from typing import Any

from django import forms
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l
from django.views.decorators.http import require_http_methods, require_safe

from orders import documents, letters, queries, states
from orders.access import nursery_of
from orders.holding import fingerprint
from orders.links import is_open
from orders.models import Document, Nursery, Order, OrderLine
from orders.refusals import Refused
from orders.throttle import too_many
from production.papers.confirmation import deposit_of, line_as_told, line_data, totals_of
from production.papers.lines import Behind, behind
from production.papers.told import Told, told_to
from production.services import holding

PAPERS = (
    Document.Kind.QUOTE,
    Document.Kind.CONFIRMATION,
    Document.Kind.PICKUP_NOTE,
    Document.Kind.INVOICE,
    Document.Kind.CREDIT_NOTE,
)
OF_ONE_LINK, OF_ONE_GUESSER = 60, 20  # requests a minute


class AcceptForm(forms.Form):
    """The name that is typed, and the tick."""

    grid = "one"

    name = forms.CharField(
        label=_l("Your name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    agree = forms.BooleanField(label=_l("I accept this order as it stands here"))


@dataclass(frozen=True, slots=True)
class Line:
    """A line as its customer reads it."""

    row: OrderLine
    said: dict[str, Any]
    state: str


def by_link(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """The view gets the order whose link this is; whoever asks for another is told that there is nothing.

    What it answers is kept by nobody on the way and listed by no search, and the address is told to no other site.
    (`no-referrer` would also keep it from ourselves: browsers then send forms with an origin that Django refuses.)
    """

    @login_not_required
    @wraps(view)
    def guarded(request: HttpRequest, token: str, **more: str) -> HttpResponse:
        order = queries.orders().filter(token=token).first()
        if order and not is_open(order, today=nursery_of(request).today()):
            order = None
        whose = f"link:{order.pk}" if order else f"guess:{request.META['REMOTE_ADDR']}"
        if too_many(whose, OF_ONE_LINK if order else OF_ONE_GUESSER):
            answer = render(request, "customer/too_many.html", status=429)
            answer["Retry-After"] = "60"
        elif order is None:
            answer = _nothing(request)
        else:
            with letters.in_language_of(order.customer):
                answer = view(request, order, **more)
        answer["Cache-Control"] = "no-store, private"
        answer["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        answer["Referrer-Policy"] = "same-origin"
        return answer

    return guarded


@require_http_methods(["GET", "HEAD", "POST"])
@by_link
def customer_order(request: HttpRequest, order: Order) -> HttpResponse:
    """The order as it stands; posting accepts what is held."""
    if request.method != "POST":
        return _page(request, order, AcceptForm())
    form = AcceptForm(request.POST)
    if not form.is_valid():
        return _page(request, order, form)
    name, seen = form.cleaned_data["name"], request.POST.get("seen", "")
    try:
        holding.accept_by_customer(order=order, name=name, seen=seen, today=nursery_of(request).today())
    except Refused as refusal:  # to be read again, and ticked again
        again = queries.orders().get(pk=order.pk)
        return _page(request, again, AcceptForm(initial={"name": name}), refused=str(refusal))
    return redirect("customer_order", token=order.token)


@require_safe
@by_link
def customer_paper(request: HttpRequest, order: Order, paper: str) -> HttpResponse:
    """One of the order's papers, byte for byte as it was sent."""
    document = order.documents.filter(token=paper, kind__in=PAPERS).first()
    if document is None or not told_to(order).may_be_shown(document):
        return _nothing(request)
    answer = HttpResponse(bytes(document.content), content_type="application/pdf")
    answer["Content-Disposition"] = content_disposition_header(False, documents.file_name(document)) or "inline"
    return answer


def _nothing(request: HttpRequest) -> HttpResponse:
    return render(request, "customer/nothing.html", status=404)


def _page(request: HttpRequest, order: Order, form: AcceptForm, *, refused: str = "") -> HttpResponse:
    nursery = nursery_of(request)
    today = nursery.today()
    rows = list(order.lines.all())
    held = [line for line in rows if line.state == states.HELD]
    until = min((line.hold_until for line in held if line.hold_until), default=None)
    offered = until is not None and until >= today
    counting = [line for line in rows if line.state in states.TAKES_ROOM | {states.COLLECTED}]
    totals = totals_of(counting, nursery)
    accepted, told, known = holding.accepted(order), told_to(order), behind(rows, nursery, today=today)
    papers = order.documents.filter(kind__in=PAPERS).defer("content", "data")
    context = {
        "order": order,
        "lines": [Line(row, _said(row, told, nursery, today, known), _state(row, today)) for row in rows],
        "totals": totals if counting else None,
        "deposit": deposit_of(order, totals.gross),
        "deposit_to_ask": not any(
            row.state in states.ONCE_PROMISED for row in rows
        ),  # the confirmation asks for it
        "offered": offered,
        "until": until,
        "ended": not offered and not any(row.state in states.PROMISED | {states.COLLECTED} for row in rows),
        "asked": all(row.state == states.ASKED for row in rows),
        "accepted": accepted,
        "papers": [paper for paper in papers if told.may_be_shown(paper)],
        "form": form,
        "seen": fingerprint(held),  # which offer is read here, so that no other one is accepted
        "refused": refused,
    }
    status = 409 if refused else 422 if form.is_bound else 200
    return render(request, "customer/order.html", context, status=status)


def _said(line: OrderLine, told: Told, nursery: Nursery, today: date, known: Behind) -> dict[str, Any]:
    """The line in its customer's words, on the day that they were told: letters tell of moves, not this page."""
    day = told.day_of(line)
    if day == line.pickup:
        return line_data(line, nursery, today, known)
    return line_as_told(line, day, nursery, today, known)


def _state(line: OrderLine, today: date) -> str:
    """How the line stands, in words for whom it is grown."""
    if line.state == states.HELD and line.hold_until and line.hold_until < today:
        return _("no longer held")
    words = {
        states.ASKED: _("noted, not promised yet"),
        states.HELD: _("held for you"),
        states.CONFIRMED: _("promised"),
        states.GROWING: _("growing"),
        states.READY: _("ready"),
        states.COLLECTED: _("collected"),
        states.LET_GO: _("no longer held"),
        states.CANCELLED: _("cancelled"),
    }
    return words[line.state]
