"""Holding an order while the caller thinks: for some days, for longer, letting go of it, and sending a quote."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from orders import queries
from orders.access import needs, nursery_of, user_of
from orders.days import day_words
from orders.holding import new_link
from orders.models import Order
from orders.posted import words_of
from orders.refusals import ManyRefused, Refused
from orders.states import MoveRefused

from ..forms.holding import HoldForm
from ..services import holding, quoting


@needs("orders.confirm_orders")
@require_POST
def order_hold(request: HttpRequest, code: str) -> HttpResponse:
    """Take the room of every asked line for some days, all or none."""

    def hold(order: Order, until: date | None) -> str:
        return held_words(
            holding.hold(order=order, until=until, by=user_of(request), today=nursery_of(request).today())
        )

    return _done(request, code, hold)


@needs("orders.confirm_orders")
@require_POST
def order_extend(request: HttpRequest, code: str) -> HttpResponse:
    """Hold what is held until another day."""

    def extend(order: Order, until: date | None) -> str:
        if until is None:
            raise Refused(_("No day is named."), mend=_("Choose until when it is held."), field="until")
        return held_words(
            holding.extend(order=order, until=until, by=user_of(request), today=nursery_of(request).today())
        )

    return _done(request, code, extend)


@needs("orders.confirm_orders")
@require_POST
def order_let_go(request: HttpRequest, code: str) -> HttpResponse:
    """Let go of all that is held of the order."""

    def let_go(order: Order, _until: date | None) -> str:
        why = words_of(request, "why")
        holding.let_go(order=order, by=user_of(request), why=why)
        return _("%(order)s is let go, and its room is free.") % {"order": order}

    return _done(request, code, let_go)


@needs("orders.take_orders")
@require_POST
def line_ask_again(request: HttpRequest, pk: int) -> HttpResponse:
    """What was let go is asked for again."""
    line = get_object_or_404(queries.lines(), pk=pk)
    try:
        holding.ask_again(line=line, by=user_of(request))
        messages.success(request, _("%(line)s is asked for again. It takes no room yet.") % {"line": line})
    except MoveRefused as refusal:
        messages.error(request, str(refusal))
    return redirect("order", code=line.order.code)


def _done(request: HttpRequest, code: str, act: Callable[[Order, date | None], str]) -> HttpResponse:
    order = get_object_or_404(Order, code=code)
    form = HoldForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("That is no day. Write it as 2027-04-21."))
        return redirect("order", code=code)
    try:
        messages.success(request, act(order, form.cleaned_data["until"]))
    except Refused as refusal:
        for each in refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]:
            messages.error(request, str(each))
    return redirect("order", code=code)


def held_words(held: holding.Held) -> str:
    """'Order 31 is held until Fri 27 November.', and why no longer."""
    words = {"order": held.order, "until": day_words(held.until), "wanted": day_words(held.wanted)}
    if held.cut_short:
        return (
            _("%(order)s is held until %(until)s, and not until %(wanted)s: the day after, its first work is due.")
            % words
        )
    return _("%(order)s is held until %(until)s. Then it lets go by itself.") % words


@needs("orders.confirm_orders", "orders.send_letters")
@require_POST
def order_quote(request: HttpRequest, code: str) -> HttpResponse:
    """Have a quote of what is held made and sent, with the customer's private link."""

    def quote(order: Order, _until: date | None) -> str:
        if quoting.send_quote(order=order, by=user_of(request)):
            return _("The quote is being made and sent.")
        return _("This quote was made already; its letter can be sent again from the letter's own page.")

    return _done(request, code, quote)


@needs("orders.confirm_orders")
@require_POST
def order_link(request: HttpRequest, code: str) -> HttpResponse:
    """Another private link for the customer; the one before is dead."""

    def renew(order: Order, _until: date | None) -> str:
        new_link(order=order, by=user_of(request))
        return _("There is a new private link; the one before opens nothing any more. Send it with a new quote.")

    return _done(request, code, renew)
