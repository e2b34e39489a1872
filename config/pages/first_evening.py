"""The first evening: an empty nursery is asked for its name, money, places, hands and crops in a few short steps.

Each step saves what it asks and can be gone back to; the last one installs the starting values.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_safe

from orders import accounts
from orders.access import EDIT_NURSERY, needs, nursery_of, user_of
from orders.forms.accounts import AccountForm, add_refusal
from orders.models import Nursery, User
from orders.refusals import ManyRefused, Refused
from production.models import Person
from production.services import closing, first_evening, starting

from .evening_forms import (
    STARTING_PLACES,
    AboutForm,
    CropsForm,
    HandForm,
    HandFormSet,
    OpenDaysForm,
    PlacesForm,
    TaxForm,
)
from .guesses import guess_for

STEPS: tuple[tuple[str, Promise], ...] = (
    ("about", _("Name and place")),
    ("tax", _("Tax")),
    ("places", _("Places")),
    ("days", _("Open days")),
    ("hands", _("Hands")),
    ("crops", _("Crops")),
)
NAMES = [name for name, _word in STEPS]
SPARE_HANDS = 2  # empty rows offered below the people entered

StepView = Callable[[HttpRequest], HttpResponse]


@login_not_required
@require_http_methods(["GET", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """The first account, while nobody may sign in yet."""
    if User.objects.exists():
        return redirect("sign_in")
    form = AccountForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            user = accounts.make_first_grower(**form.cleaned_data)
        except Refused as refusal:
            add_refusal(form, refusal)
        else:
            login(request, user, backend="django.contrib.auth.backends.ModelBackend")
            return redirect("first_evening")
    status = 422 if form.errors else 200
    return render(request, "first_evening/account.html", {"form": form}, status=status)


@needs(EDIT_NURSERY)
@require_safe
def begin(request: HttpRequest) -> HttpResponse:
    """The first step that has not been taken."""
    if nursery_of(request).set_up:
        return redirect("nursery")
    taken = _taken()
    return redirect("first_evening_step", next((name for name in NAMES if name not in taken), NAMES[-1]))


@needs(EDIT_NURSERY)
@require_http_methods(["GET", "POST"])
def step(request: HttpRequest, name: str) -> HttpResponse:
    if nursery_of(request).set_up:
        return redirect("nursery")
    if name not in STEP_VIEWS or (name != NAMES[0] and NAMES[0] not in _taken()):
        return redirect("first_evening")
    return STEP_VIEWS[name](request)


@needs(EDIT_NURSERY)
@require_safe
def done(request: HttpRequest) -> HttpResponse:
    return render(request, "first_evening/done.html") if nursery_of(request).set_up else redirect("first_evening")


def _taken() -> set[str]:
    """The steps that have been taken, read from what is there."""
    found = set()
    if Nursery.objects.exists():
        found |= {"about", "tax"}
    if first_evening.place_of("bench"):
        found |= {"places", "days"}
    if Person.objects.exists():
        found.add("hands")
    return found


def _go_on(name: str) -> HttpResponse:
    following = NAMES.index(name) + 1
    return redirect("first_evening_step", NAMES[following])


def _page(request: HttpRequest, name: str, context: dict[str, Any]) -> HttpResponse:
    taken = _taken()
    steps = [{"name": each, "word": word, "here": each == name, "open": each in taken} for each, word in STEPS]
    common = {"steps": steps, "number": NAMES.index(name) + 1, "title": dict(STEPS)[name]}
    status = 422 if request.method == "POST" else 200
    return render(request, f"first_evening/{name}.html", common | context, status=status)


def about(request: HttpRequest) -> HttpResponse:
    nursery = Nursery.current()
    if nursery._state.adding:
        guess_for(request, nursery)
    return _nursery_step(request, "about", AboutForm, nursery)


def tax(request: HttpRequest) -> HttpResponse:
    return _nursery_step(request, "tax", TaxForm, Nursery.current())


def _nursery_step(request: HttpRequest, name: str, form_class: Any, nursery: Nursery) -> HttpResponse:
    form = form_class(request.POST if request.method == "POST" else None, instance=nursery, nursery=nursery)
    if form.is_valid():
        form.save()
        return _go_on(name)
    return _page(request, name, {"form": form})


def places(request: HttpRequest) -> HttpResponse:
    there = {kind.value: first_evening.place_of(kind) for kind, _trays, _hint in STARTING_PLACES}
    begun = any(there.values())
    initial = {kind: int(place.capacity) if place else 0 for kind, place in there.items()} if begun else {}
    form = PlacesForm(request.POST if request.method == "POST" else None, initial=initial)
    if form.is_valid():
        first_evening.set_places(tray_places=form.cleaned_data, by=user_of(request))
        return _go_on("places")
    return _page(request, "places", {"form": form})


def days(request: HttpRequest) -> HttpResponse:
    nursery = Nursery.current()
    form = OpenDaysForm(request.POST if request.method == "POST" else None, instance=nursery, nursery=nursery)
    if form.is_valid():
        form.save()
        closing.close(days=closing.ticked(request.POST.getlist("day")), by=user_of(request))
        return _go_on("days")
    return _page(request, "days", {"form": form, "holidays": closing.offered(nursery)})


def hands(request: HttpRequest) -> HttpResponse:
    starting.skills()
    known = {person.pk: person for person in Person.objects.prefetch_related("skills")}
    initial = [
        {"person": p.pk, "name": p.name, "hours": max(p.hours), "skills": p.skills.all()} for p in known.values()
    ] or [{"name": user_of(request).shown_name, "hours": 8}]
    formset = HandFormSet(request.POST if request.method == "POST" else None, initial=initial)
    formset.extra = SPARE_HANDS
    if formset.is_valid():
        try:
            first_evening.set_hands(
                hands=[_hand(form, known) for form in formset if form.cleaned_data.get("name")],
                open_weekdays=nursery_of(request).open_weekdays,
                by=user_of(request),
            )
        except Refused as refusal:
            for each in refusal.refusals if isinstance(refusal, ManyRefused) else [refusal]:
                formset.non_form_errors().append(str(each))
        else:
            return _go_on("hands")
    return _page(request, "hands", {"formset": formset})


def _hand(form: HandForm, known: dict[int, Person]) -> first_evening.Hand:
    sent = form.cleaned_data
    person = known.get(sent["person"]) if sent["person"] else None
    return first_evening.Hand(sent["name"], sent["hours"], tuple(sent["skills"]), person)


def crops(request: HttpRequest) -> HttpResponse:
    form = CropsForm(request.POST if request.method == "POST" else None)
    missing = [word for name, word in STEPS[:-1] if name not in _taken()]
    if form.is_valid() and not missing:
        first_evening.finish(crops=form.cleaned_data["crops"], by=user_of(request))
        return redirect("first_evening_done")
    return _page(request, "crops", {"form": form, "missing": missing})


STEP_VIEWS: dict[str, StepView] = {
    "about": about,
    "tax": tax,
    "places": places,
    "days": days,
    "hands": hands,
    "crops": crops,
}
