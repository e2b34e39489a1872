"""Places, hands and skills."""

from __future__ import annotations

from datetime import date

from django.db import models
from django.http import HttpRequest
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from orders.forms.records import Inline, rows_of
from orders.models import Nursery, PlaceKind
from orders.templatetags.house import day
from orders.units import UNITS
from orders.views.records import Column, RecordPages

from ..forms.places import (
    AbsenceForm,
    HoursByPartForm,
    HoursByPartFormSet,
    OpeningForm,
    PersonForm,
    PlaceForm,
    SkillForm,
    SpellForm,
    works_alone,
)
from ..models import Person, PersonAbsence, PersonPart, Place, PlaceOpening, PlaceTemperature, Skill


def kinds_said(place: Place) -> str:
    return ", ".join(str(PlaceKind(kind).label) for kind in place.kinds)


def capacity_said(place: Place, _nursery: Nursery | None = None) -> str:
    """'24 tray places', '12.5 m²'."""
    return f"{place.capacity:g} {place.get_measure_display()}"


def temperature_said(place: Place, nursery: Nursery) -> str:
    unit = UNITS["degrees"][nursery.temperature_unit]
    return f"{round(unit.shown(place.temperature), 1):g} {unit.sign}"


def openings_said(place: Place, nursery: Nursery) -> str:
    """When it can be used, from today on: 'all year' or its spans."""
    today = nursery.today()
    spans = [span for span in place.openings.all() if span.last >= today]
    if spans:
        return "; ".join(f"{day(span.first, today)} – {day(span.last, today)}" for span in spans)
    return _("no longer open") if place.openings.all() else _("all year")


class PlacePages(RecordPages):
    model = Place
    form = PlaceForm
    name, plural, segment = "place", "places", "places"
    title = gettext_lazy("Places")
    new_word = gettext_lazy("Add a place")
    empty = gettext_lazy(
        "No places yet. A place is where plants stand: a germination chamber, a bench, the healing chamber."
    )
    columns = (
        Column(gettext_lazy("Place"), lambda place, _nursery: place.name),
        Column(gettext_lazy("Serves as"), lambda place, _nursery: kinds_said(place)),
        Column(gettext_lazy("Holds"), capacity_said, number=True),
        Column(gettext_lazy("Temperature"), temperature_said, number=True),
        Column(gettext_lazy("Open"), openings_said),
    )
    inlines = (
        Inline(
            gettext_lazy("Open only on these days"),
            gettext_lazy("Without any, it is open all year."),
            rows_of(Place, PlaceOpening, OpeningForm),
        ),
        Inline(
            gettext_lazy("Warmer or colder for a while"),
            gettext_lazy("Clocks of plants that stand here then run by this temperature."),
            rows_of(Place, PlaceTemperature, SpellForm),
        ),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Place.objects.prefetch_related("openings")

    def lead(self, rows: models.QuerySet, nursery: Nursery) -> str:
        there = {kind for place in rows if place.active for kind in place.kinds}
        missing = [
            str(PlaceKind(kind).label).lower()
            for kind in (PlaceKind.BENCH, PlaceKind.HEALING)
            if rows and kind not in there
        ]
        return _("Still missing: %(kinds)s.") % {"kinds": ", ".join(missing)} if missing else ""


def week_said(person: Person) -> str:
    return _("%(hours)g h") % {"hours": float(sum(person.hours))}


def away_said(person: Person, nursery: Nursery) -> str:
    """The next absence, from today on."""
    today: date = nursery.today()
    spans = [span for span in person.absences.all() if span.last >= today]
    if not spans:
        return ""
    first, last = spans[0].first, spans[0].last
    return day(first, today) if first == last else f"{day(first, today)} – {day(last, today)}"


def _has_parts(person: Person) -> bool:
    return person.pk is not None and person.hours_by_part.exists()


class PersonPages(RecordPages):
    model = Person
    form = PersonForm
    name, plural, segment = "person", "people", "hands"
    title = gettext_lazy("Hands")
    new_word = gettext_lazy("Add a person")
    empty = gettext_lazy("Nobody yet. A person has hours for each day of the week, and skills: sowing, grafting …")
    list_template = "production/nursery/people.html"
    columns = (
        Column(gettext_lazy("Name"), lambda person, _nursery: person.name),
        Column(gettext_lazy("A week"), lambda person, _nursery: week_said(person), number=True),
        Column(
            gettext_lazy("Care on a closed day"),
            lambda person, _nursery: _("%(hours)g h") % {"hours": float(person.care_hours)},
            number=True,
        ),
        Column(gettext_lazy("Skills"), lambda person, _nursery: ", ".join(map(str, person.skills.all()))),
        Column(gettext_lazy("Away"), away_said),
    )
    inlines = (
        Inline(
            gettext_lazy("Of the hours of an open day, in the morning or in the evening"),
            gettext_lazy(
                "Only where it matters, as for cuts that are made in the evening: work of that part of the day is "
                "then planned for no more than these hours. Left empty, all hours of a day do for all of its work."
            ),
            rows_of(Person, PersonPart, HoursByPartForm, HoursByPartFormSet, most=len(PersonPart.Part)),
            lambda person: not works_alone(person) or _has_parts(person),
        ),
        Inline(
            gettext_lazy("Away"),
            gettext_lazy("On these days nothing is planned for this person, care neither."),
            rows_of(Person, PersonAbsence, AbsenceForm),
        ),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Person.objects.prefetch_related("skills", "absences")

    def lead(self, rows: models.QuerySet, nursery: Nursery) -> str:
        people = [person for person in rows if person.active]
        if not people:
            return ""
        return ngettext(
            "%(n)d person, %(hours)g hours in a usual week.", "%(n)d people, %(hours)g hours in a usual week.",
            len(people),
        ) % {"n": len(people), "hours": float(sum(sum(person.hours) for person in people))}  # fmt: skip


class SkillPages(RecordPages):
    model = Skill
    form = SkillForm
    name, plural, segment, shelf = "skill", "skills", "skills", "people"
    title = gettext_lazy("Skills")
    new_word = gettext_lazy("Add a skill")
    empty = gettext_lazy("No skills yet. Work of a protocol asks for a skill, and people have some.")
    columns = (
        Column(gettext_lazy("Skill"), lambda skill, _nursery: skill.name),
        Column(gettext_lazy("People"), lambda skill, _nursery: ", ".join(map(str, skill.people.all()))),
    )

    def rows(self, request: HttpRequest) -> models.QuerySet:
        return Skill.objects.prefetch_related("people")
