"""What an empty nursery is given on its first evening: places, hands, starting values. Each can be run again."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from orders import history, records
from orders.models import Nursery, PlaceKind, User
from orders.refusals import ManyRefused, Refused

from ..models import Person, Place, Skill
from . import starting

# 24-hour means: germination chamber and bench as the starting clocks take them (production.starting.crops); the
# healing chamber at about 85 °F and 90 % (common practice, no source); hardening inside the published 10–18 °C.
DEGREES = {
    PlaceKind.GERMINATION: 25.0,
    PlaceKind.BENCH: 21.0,
    PlaceKind.HEALING: 29.0,
    PlaceKind.HARDENING: 16.0,
    PlaceKind.STAGING: 18.0,
}
HUMIDITY = {PlaceKind.HEALING: 90.0}


@dataclass(frozen=True, slots=True)
class Hand:
    """A person as the first evening asks for them: hours on each open day, and skills."""

    name: str
    hours: Decimal
    skills: tuple[Skill, ...]
    person: Person | None = None  # one entered before


def place_of(kind: str) -> Place | None:
    """The place that the first evening made, or would change, for this kind."""
    places = Place.objects.filter(active=True)
    return next((place for place in places if place.kinds[:1] == [kind]), None)


def set_places(*, tray_places: Mapping[str, float], by: User | None) -> None:
    """One place for each kind with so many tray places; 0 means that there is none of that kind."""
    with transaction.atomic():
        for kind, capacity in tray_places.items():
            place = place_of(kind)
            if capacity:
                _set_place(place or _new_place(kind), capacity, by)
            elif place:
                records.remove(record=place, by=by)


def _new_place(kind: str) -> Place:
    return Place(
        name=str(PlaceKind(kind).label),
        kinds=[kind],
        temperature=DEGREES[PlaceKind(kind)],
        humidity=HUMIDITY.get(PlaceKind(kind)),
    )


def _set_place(place: Place, capacity: float, by: User | None) -> None:
    new = place._state.adding
    changed = [] if place.capacity == capacity else [_("capacity")]
    place.capacity = capacity
    place.save()
    records.note_saved(record=place, by=by, new=new, changed=changed)


def set_hands(*, hands: Sequence[Hand], open_weekdays: Collection[int], by: User | None) -> None:
    """People with the same hours on each open day. Who works alone has every skill."""
    if not hands:
        raise Refused(_("Nobody works here yet."), mend=_("Name at least one person."))
    with transaction.atomic():
        every = tuple(Skill.objects.all())
        for hand in hands:
            _set_hand(hand, every if len(hands) == 1 else hand.skills, open_weekdays, by)
        _check_skills(every)


def _set_hand(hand: Hand, skills: Sequence[Skill], open_weekdays: Collection[int], by: User | None) -> None:
    person = hand.person or Person()
    new = person._state.adding
    if Person.objects.filter(name=hand.name).exclude(pk=person.pk).exists():
        raise Refused(_("Two people are called %(name)s.") % {"name": hand.name}, mend=_("Tell them apart."))
    person.name = hand.name
    for number, weekday in enumerate(Person.WEEKDAYS):
        setattr(person, weekday, hand.hours if number in open_weekdays else Decimal(0))
    person.save()
    person.skills.set(skills)
    records.note_saved(record=person, by=by, new=new, changed=[_("hours and skills")])


def _check_skills(every: Sequence[Skill]) -> None:
    """Work of every kind needs somebody, or no promise could ever be made."""
    had = set(Skill.objects.filter(people__active=True).values_list("pk", flat=True))
    missing = [skill for skill in every if skill.pk not in had]
    if missing:
        raise ManyRefused(
            [
                Refused(_("Nobody has the skill “%(skill)s”.") % {"skill": skill}, mend=_("Tick it for somebody."))
                for skill in missing
            ]
        )


def finish(*, crops: Collection[str], by: User | None) -> None:
    """Install the starting values of the crops chosen; the nursery is set up and can take its first order."""
    with transaction.atomic():
        starting.install(by=by, choices=crops)
        nursery = Nursery.objects.select_for_update().get(pk=1)
        if not nursery.set_up:
            nursery.set_up = True
            nursery.save(update_fields=["set_up"])
            history.record(by=by, what="nursery set up", subject=nursery, text=_("The nursery is set up."))
