"""The nursery at a glance: what stands on each shelf, and what is still missing for a promise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, Sum
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from orders.access import EDIT_NURSERY, needs, nursery_of
from orders.models import Container, Crop, Customer, Nursery, PlaceKind, Price, User, Variety
from orders.templatetags.house import day
from production.models import ClosedDay, Person, Place, Protocol, SeedLot
from production.views.places import capacity_said


@dataclass(frozen=True, slots=True)
class Shelf:
    """One row of the overview: where it leads, what it says, and what is missing there."""

    name: str  # of the page
    word: str
    says: str
    missing: str = ""


@needs(EDIT_NURSERY)
@require_safe
def overview(request: HttpRequest) -> HttpResponse:
    nursery = nursery_of(request)
    shelves = list(_shelves(nursery, nursery.today()))
    missing = [shelf for shelf in shelves if shelf.missing]
    context = {"section": "nursery", "shelf": "nursery", "rows": shelves, "missing": missing}
    return render(request, "nursery.html", context)


def _shelves(nursery: Nursery, today: date) -> Iterator[Shelf]:
    yield _places()
    yield _hands()
    yield _days(today)
    yield _crops()
    yield _varieties()
    yield _lots(today)
    yield Shelf("containers", _("Trays and pots"), _counted(Container.objects.filter(active=True).count()))
    yield _protocols()
    yield _prices()
    yield Shelf("customers", _("Customers"), _counted(Customer.objects.count()))
    yield Shelf("users", _("Who signs in"), _counted(User.objects.filter(is_active=True).count()))


def _counted(number: int) -> str:
    return str(number) if number else _("none yet")


def _places() -> Shelf:
    places = list(Place.objects.filter(active=True))
    kinds = {kind for place in places for kind in place.kinds}
    healing = ", ".join(capacity_said(place) for place in places if PlaceKind.HEALING in place.kinds)
    says = ngettext("%(n)d place", "%(n)d places", len(places)) % {"n": len(places)}
    if healing:
        says = _("%(places)s; to heal grafts: %(healing)s") % {"places": says, "healing": healing}
    missing = ""
    if PlaceKind.BENCH not in kinds:
        missing = _("There is no bench to raise plants on.")
    elif PlaceKind.HEALING not in kinds:
        missing = _("There is no healing chamber, so nothing can be grafted that needs one.")
    return Shelf("places", _("Places"), says, missing)


def _hands() -> Shelf:
    people = list(Person.objects.filter(active=True))
    hours = float(sum(sum(person.hours) for person in people))
    says = ngettext(
        "%(n)d person, %(hours)g hours a week", "%(n)d people, %(hours)g hours a week", len(people)
    ) % {"n": len(people), "hours": hours}
    return Shelf(
        "people", _("Hands"), says, "" if hours else _("Nobody has any hours, so nothing can be promised.")
    )


def _days(today: date) -> Shelf:
    ahead = ClosedDay.objects.filter(day__gte=today)
    following = ahead.first()
    if following is None:
        return Shelf("closed_days", _("Open days"), _("no closed day ahead"))
    says = ngettext(
        "closed on %(n)d day ahead, next %(day)s", "closed on %(n)d days ahead, next %(day)s", len(ahead)
    )
    return Shelf("closed_days", _("Open days"), says % {"n": len(ahead), "day": day(following.day, today)})


def _crops() -> Shelf:
    names = list(Crop.objects.values_list("name", flat=True))
    return Shelf("crops", _("Crops"), ", ".join(names) or _("none yet"))


def _varieties() -> Shelf:
    in_use = Variety.objects.filter(active=True)
    scions = in_use.filter(Q(role="scion") | Q(role="both")).count()
    rootstocks = in_use.filter(Q(role="rootstock") | Q(role="both")).count()
    says = (
        ngettext("%(n)d scion", "%(n)d scions", scions) % {"n": scions},
        ngettext("%(n)d rootstock", "%(n)d rootstocks", rootstocks) % {"n": rootstocks},
    )
    return Shelf("varieties", _("Varieties"), ", ".join(says))


def _lots(today: date) -> Shelf:
    lots = SeedLot.objects.filter(used_up=False)
    in_hand = lots.filter(received_on__isnull=False)
    expected = lots.filter(received_on__isnull=True).order_by("expected_on")
    seeds = in_hand.aggregate(seeds=Sum("seeds"))["seeds"] or 0
    says = ngettext("%(n)d in hand, %(seeds)d seeds", "%(n)d in hand, %(seeds)d seeds", in_hand.count())
    says %= {"n": in_hand.count(), "seeds": seeds}
    following = expected.first()
    if following:
        words = _("%(lots)s; %(n)d expected, next by %(day)s")
        says = words % {"lots": says, "n": expected.count(), "day": day(following.expected_on, today)}
    return Shelf("seed_lots", _("Seed lots"), says)


def _protocols() -> Shelf:
    current = Protocol.objects.filter(current=True)
    without = Crop.objects.exclude(protocols__current=True).values_list("name", flat=True)
    missing = _("No protocol for %(crops)s.") % {"crops": ", ".join(without)} if without else ""
    return Shelf("protocols", _("Protocols"), _counted(current.count()), missing)


def _prices() -> Shelf:
    count = Price.objects.count()
    return Shelf("prices", _("Prices"), _counted(count), "" if count else _("No prices: each order asks for one."))
