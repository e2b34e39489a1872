"""The season: where it will pinch, who is in it, what helps; and moving a line to see what that does."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from orders import queries, states
from orders.access import needs, nursery_of
from orders.models import Nursery, OrderLine
from orders.posted import words_of
from orders.refusals import Refused

from .. import at_hand
from ..answers import card_of, conflict_sentence
from ..forms.move import MOST_PIECES, PieceFormSet
from ..forms.season import SeasonForm
from ..season.batches import Wanted
from ..season.options import options_of
from ..season.page import season_page
from ..services import answering, moving
from ..services.easing import MOVABLE, easing_of
from ..services.joining import alone
from ..words import eased


@needs("production.see_work")
@require_safe
def season(request: HttpRequest) -> HttpResponse:
    """The days that are asked for: a year, weeks, a week or a day; or one box of them."""
    nursery = nursery_of(request)
    form = SeasonForm(request.GET)
    good = form.is_valid()
    scope = form.scope(today=nursery.today(), begins=nursery.first_weekday)
    asked = form.cleaned_data
    shown = season_page(
        scope,
        nursery,
        wanted=Wanted(
            asked.get("order", ""), asked.get("crop") and asked["crop"].pk, asked.get("in_conflict", False)
        ),
        number=request.GET.get("page"),
        conflicts=request.GET.get("conflicts"),
    )
    context = {"shown": shown, "form": form, "keep": _kept(request, "page"), "keep_c": _kept(request, "conflicts")}
    return render(request, "production/season.html", context, status=200 if good else 422)


def _kept(request: HttpRequest, leaves: str) -> str:
    """The rest of the query for a pager, ending in '&'."""
    kept = request.GET.copy()
    kept.pop(leaves, None)
    return f"{kept.urlencode()}&" if kept else ""


@needs("production.replan")
@require_safe
def line_ways(request: HttpRequest, pk: int) -> HttpResponse:
    """What would help a conflict that the line stands in; in place on the season page, or on a page of its own."""
    line = get_object_or_404(queries.lines(), pk=pk)
    nursery = nursery_of(request)
    context: dict[str, Any] = {"line": line, "section": "season", "may_move": line.state in MOVABLE}
    try:
        easing = easing_of(line=line, today=nursery.today())
    except Refused as refused:
        context["refusal"] = refused
    else:
        context["options"] = list(options_of(easing, today=nursery.today(), nursery=nursery))
    template = "season/_options.html" if request.headers.get("HX-Request") else "line_ways.html"
    return render(request, f"production/{template}", context)


@needs("production.replan")
@require_http_methods(["GET", "POST"])
def line_move(request: HttpRequest, pk: int) -> HttpResponse:
    """See what another pickup or a split would do; only 'save' stores anything."""
    line = get_object_or_404(queries.lines(), pk=pk)
    if request.method == "GET":
        first = {"quantity": line.quantity, "pickup": line.pickup or line.pickup_asked}
        return _page(request, line, PieceFormSet(prefix="pieces", initial=[first]))
    action = request.POST.get("action", "look")
    pieces = PieceFormSet(_split(request.POST) if action == "split" else request.POST, prefix="pieces")
    if action == "split" or not pieces.is_valid():
        return _page(request, line, pieces)
    return _look_or_save(request, line, pieces, save=action == "save")


def _look_or_save(request: HttpRequest, line: OrderLine, pieces: Any, *, save: bool) -> HttpResponse:
    today = Nursery.current().today()
    wanted = [(form.cleaned_data["quantity"], form.cleaned_data["pickup"]) for form in pieces]
    over = words_of(request, "over_conflict")
    refusal = None
    if save:
        try:
            moving.move(line=line, pieces=wanted, by=request.user, today=today, over_conflict=over)  # type: ignore[arg-type]
        except Refused as refused:
            refusal = refused
        else:
            messages.success(request, _moved_words(line))
            if request.headers.get("HX-Request"):  # taken on the season page: the same days once more
                return HttpResponse(headers={"HX-Refresh": "true"})
            return redirect("season")
    try:
        looked = moving.look_at_move(line=line, pieces=wanted, today=today)
    except Refused as refused:
        return _page(request, line, pieces, refusal=refused)
    return _page(request, line, pieces, looked=looked, refusal=refusal)


def _moved_words(line: OrderLine) -> str:
    """What comes of the move, as far as somebody is to be told."""
    customer = line.order.customer
    if customer is None or line.state == states.HELD:
        words = _("%(line)s is moved.")
    elif customer.email:
        words = _("%(line)s is moved. The letter to %(customer)s is drafted: read and send it under Letters.")
    else:
        words = _("%(line)s is moved. %(customer)s is on the call list, with the words to say.")
    return words % {"line": line, "customer": customer}


def _is_number(text: str) -> bool:
    """Of no more digits than any quantity has: Python refuses to read some thousand of them."""
    return text.isdecimal() and len(text) <= 9


def _split(data: QueryDict) -> QueryDict:
    """A piece more, with half of what the last one has."""
    changed = data.copy()
    total = changed.get("pieces-TOTAL_FORMS", "")
    if not _is_number(total) or not 0 < int(total) < MOST_PIECES:
        return changed
    count = int(total)
    last, new = f"pieces-{count - 1}-", f"pieces-{count}-"
    whole = changed.get(f"{last}quantity", "")
    half = int(whole) // 2 if _is_number(whole) else 0
    if half:
        changed[f"{last}quantity"] = str(int(whole) - half)
    changed[f"{new}quantity"] = str(half or "")
    changed[f"{new}pickup"] = changed.get(f"{last}pickup", "")
    changed["pieces-TOTAL_FORMS"] = str(count + 1)
    return changed


def _page(
    request: HttpRequest,
    line: OrderLine,
    pieces: Any,
    looked: moving.Move | None = None,
    refusal: Refused | None = None,
) -> HttpResponse:
    nursery = Nursery.current()
    today = nursery.today()
    context: dict[str, Any] = {
        "line": line,
        "pieces": pieces,
        "looked": looked,
        "refusal": refusal,
        "section": "season",
    }
    if looked:
        others = at_hand.taken(today, nursery).season(but=alone(line))  # what the pieces were looked at beside
        plans = [answer.plan for answer in looked.answers if answer.plan]
        context["cards"] = [
            card_of(
                number,
                answering.LineAnswer(line, (), answer, looked.protocol),
                today=today,
                nursery=nursery,
                season=others,
                beside=[plan for plan in plans if plan is not answer.plan],
            )
            for number, answer in enumerate(looked.answers, start=1)
        ]
        context["eased"] = eased(looked.before, looked.after)
        context["after"] = [conflict_sentence(conflict) for conflict in looked.after]
        context["wanted"] = [(answer.wish.quantity, answer.wish.pickup) for answer in looked.answers]
    in_place = request.headers.get("HX-Request")
    template = "production/season/_looked.html" if in_place else "production/line_move.html"
    return render(request, template, context, status=422 if refusal else 200)
