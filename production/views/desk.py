"""A new order: typed, answered as it is typed, promised or kept as asked."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from orders import services as orders
from orders.access import needs, user_of
from orders.models import Nursery, Order, OrderLine
from orders.posted import words_of
from orders.refusals import ManyRefused, Refused

from .. import at_hand
from ..answers import Card, card_of
from ..forms.desk import SUGGESTED, LineFormSet, OrderForm, first_line, first_order, suggested, suggestions
from ..forms.typed import as_typed, changed, fill_as_before, focus_after
from ..offers import joined_by_number
from ..queries import past
from ..services import answering, holding, joining, promise
from .holding import held_words


@dataclass(slots=True)
class Desk:
    """The page as it was sent: its two forms, and what the planner says of the lines."""

    form: OrderForm
    lines: Any  # a LineFormSet
    cards: list[Card]
    earlier: list[past.Earlier] = field(default_factory=list)  # what this customer had before
    reason: str = ""  # to promise over a conflict

    @property
    def complete(self) -> bool:
        return self.form.is_valid() and self.lines.is_valid()

    @property
    def all_fit(self) -> bool:
        return bool(self.cards) and all(card.fits for card in self.cards)

    @property
    def needs_mending(self) -> bool:
        """Whether something that was typed is wrong, and not only missing yet."""
        return bool(self.lines.is_bound and any(line_form.wrong for line_form in self.lines))

    @property
    def looking(self) -> bool:
        """Whether a closer look is still to come."""
        return any(card.looking for card in self.cards)

    @property
    def verdict(self) -> str:
        """The answer in one sentence, for a screen on which the whole of it is out of sight."""
        wanting = [card.title for card in self.cards if not card.fits]
        if wanting or len(self.cards) == 1:
            return (wanting or [self.cards[0].title])[0]
        return _("All %(n)d lines fit.") % {"n": len(self.cards)} if self.cards else ""


@needs("orders.take_orders")
@require_http_methods(["GET", "POST"])
def new_order(request: HttpRequest) -> HttpResponse:
    """The whole page; each of its buttons posts here with its `action`."""
    nursery = Nursery.current()
    today = nursery.today()
    if request.method == "GET":
        formset = LineFormSet(prefix="lines", initial=[first_line(nursery)])
        return _page(request, Desk(OrderForm(initial=first_order()), formset, []))
    action, _colon, detail = request.POST.get("action", "answer").partition(":")
    data = changed(request.POST, action, detail, today=today, nursery=nursery)
    fill_as_before(data)
    desk = _desk(data, nursery, today, costs=sees_costs(request))
    if action == "keep" and desk.complete:
        return _keep(request, desk, today, promised=False)
    if action == "promise" and desk.complete and (desk.all_fit or words_of(request, "over_conflict")):
        return _keep(request, desk, today, promised=True)
    if action == "moving" and desk.complete:
        return _keep(request, desk, today, promised=True, moving=True)
    if action == "hold" and desk.complete and desk.all_fit:
        return _keep(request, desk, today, promised=True, held=True)
    if action == "joining" and desk.complete:
        return _keep(request, desk, today, promised=True, joins=detail)
    if action in ("promise", "hold") and desk.complete:
        messages.error(request, _nothing_done(action, desk, may_over=may_promise_over(request)))
    return _page(request, desk, focus=focus_after(action, data))


@needs("orders.take_orders")
@require_POST
def answer(request: HttpRequest) -> HttpResponse:
    """Only the answer, swapped into the page while one types; a no is looked into once one stops typing."""
    nursery = Nursery.current()
    data = request.POST.copy()
    filled = {number: as_typed(data, number) for number in fill_as_before(data)}
    desk = _desk(data, nursery, nursery.today(), costs=sees_costs(request), closely="closely" in data)
    context = {"desk": desk, "nursery": nursery, "filled": filled, "over": may_promise_over(request)}
    return render(request, "production/desk.html#answer", context)


@needs("orders.take_orders")
@require_safe
def suggest(request: HttpRequest, kind: str) -> HttpResponse:
    """Names for the list of a field, while one types in it."""
    if kind not in SUGGESTED:
        raise Http404
    values = request.GET.dict()
    customer = values.pop("customer", "")
    words = customer if kind == "customer" else " ".join(values.values())
    return render(request, "production/_names.html", {"names": suggested(kind, words, customer)})


def may_promise_over(request: HttpRequest) -> bool:
    return request.user.has_perm("production.promise_over_conflict")


def sees_costs(request: HttpRequest) -> bool:
    return request.user.has_perm("orders.see_costs")


def _nothing_done(action: str, desk: Desk, *, may_over: bool) -> str:
    """Why the button did not do what it says: the caller waits, and the page looks as it did before."""
    head = _("Nothing is held.") if action == "hold" else _("Nothing is promised.")
    if action == "promise" and may_over:
        mend = _("Take one of its ways out, say below why it can be done all the same, or keep it as asked.")
    else:
        mend = _("Take one of its ways out, or keep it as asked.")
    return f"{head} {desk.verdict} {mend}"


def _desk(data: QueryDict, nursery: Nursery, today: date, *, costs: bool, closely: bool = True) -> Desk:
    """Both forms, what the customer had before, and the cards of all lines once each of them is complete."""
    form = OrderForm(data)
    formset = LineFormSet(data, prefix="lines")
    cards: list[Card] = []
    form.is_valid()
    if formset.is_valid():
        lines = [line_form.line() for line_form in formset]
        cards = cards_for(lines, nursery=nursery, today=today, costs=costs, closely=closely)
    earlier = past.earlier_orders(form.known, today) if form.known else []
    return Desk(form, formset, cards, earlier, reason=data.get("over_conflict", ""))


def cards_for(
    lines: list[OrderLine], *, nursery: Nursery, today: date, costs: bool, closely: bool = True
) -> list[Card]:
    """The cards of these lines, judged together, with what they cost and leave if that may be seen.

    Not `closely` leaves the ways out to a second question.
    """
    season = at_hand.season_of(today, nursery=nursery)
    answers = answering.what_if(lines, today=today, nursery=nursery, season=season, closely=closely)
    outs = answering.ways_out(answers, season=season, nursery=nursery) if closely else [None] * len(answers)
    cards = []
    joining = joined_by_number(outs)
    for number, (said, out) in enumerate(zip(answers, outs, strict=True), start=1):
        beside = [other.plan for other in answers if other is not said and other.fits and other.plan]
        cards.append(
            card_of(
                number,
                said,
                today=today,
                nursery=nursery,
                season=season,
                out=out,
                beside=beside,
                joining=joining,
                costs=costs,
                closely=closely,
            )
        )
    return cards


def _keep(
    request: HttpRequest,
    desk: Desk,
    today: date,
    *,
    promised: bool,
    moving: bool = False,
    held: bool = False,
    joins: str = "",
) -> HttpResponse:
    """Store the order; when it is to be promised, confirm it at once.

    If so wanted others are moved to make room, or lines that do not fit alone go into batches: `joins` names them,
    'B12/3,B14/1' being the third revision of B12 and the first of B14. With `held` it is promised for the usual
    number of days only.
    """
    user = request.user
    try:
        order = _store(desk, user, today)
    except Refused as refusal:
        _show(request, refusal)
        return _page(request, desk)
    if not promised:
        messages.success(request, _("%(order)s is kept as asked. It takes no room yet.") % {"order": order})
        return redirect("order", code=order.code)
    try:
        if held:
            said = held_words(holding.hold(order=order, by=user_of(request), today=today))
        else:
            promise.accept(
                order=order,
                by=user_of(request),
                today=today,
                over_conflict="" if moving or joins else words_of(request, "over_conflict"),
                moving=moving,
                joining=_joining(joins),
            )
            said = _("%(order)s is promised.") % {"order": order}
    except Refused as refusal:
        _show(request, refusal)
        messages.info(request, _("%(order)s is kept as asked. Nothing is promised.") % {"order": order})
    else:
        messages.success(request, said)
    return redirect("order", code=order.code)


def _joining(joins: str) -> list[joining.Joining]:
    named = (each.partition("/") for each in joins.split(",") if each)
    return [joining.named(name, int(seen) if seen.isdecimal() else None) for name, _slash, seen in named]


@transaction.atomic
def _store(desk: Desk, user: Any, today: date) -> Order:
    data = desk.form.cleaned_data
    customer = None
    if not data["own_crop"]:
        customer = desk.form.known or orders.find_or_make_customer(
            name=data["customer"], email=data["email"], phone=data["phone"], by=user
        )
    return orders.take_order(
        customer=customer,
        own_crop=data["own_crop"],
        notes=data["notes"],
        lines=orders.with_new_varieties([line_form.line() for line_form in desk.lines], by=user),
        by=user,
        today=today,
        submit_key=data["submit_key"],
    )


def _show(request: HttpRequest, refusal: Refused) -> None:
    for each in refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]:
        messages.error(request, str(each))


def _page(request: HttpRequest, desk: Desk, focus: str = "") -> HttpResponse:
    """The page, ready to type in the field named `focus`, or in the first one."""
    if focus:
        desk.form.fields["customer"].widget.attrs.pop("autofocus", None)
        for line_form in desk.lines:
            name = focus.removeprefix(f"{line_form.prefix}-")
            if name in line_form.fields:
                line_form.fields[name].widget.attrs["autofocus"] = True
    context = {
        "desk": desk,
        "section": "orders",
        "over": may_promise_over(request),
        **suggestions(),
    }
    status = 200 if request.method == "GET" or desk.complete else 422
    return render(request, "production/desk.html", context, status=status)
