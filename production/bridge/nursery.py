"""The nursery itself as terms: calendar, places, people, containers."""

from __future__ import annotations

from datetime import date
from typing import cast

from orders.models import Container, Nursery

from ..models import ClosedDay, Person, Place
from ..planning import terms


def empty_season(today: date, nursery: Nursery) -> terms.Season:
    """The nursery itself, with nothing taken."""
    return terms.Season(
        today=today,
        calendar=calendar_of(nursery),
        places=places(),
        people=people(),
        prices=terms.Prices(hour=float(nursery.hour_price), metre_week=float(nursery.metre_week_price)),
    )


def calendar_of(nursery: Nursery) -> terms.Calendar:
    return terms.Calendar(
        open_weekdays=frozenset(nursery.open_weekdays),
        closed=frozenset(ClosedDay.objects.values_list("day", flat=True)),
    )


def places() -> tuple[terms.Place, ...]:
    rows = Place.objects.filter(active=True).prefetch_related("openings", "temperatures")
    return tuple(place_of(row) for row in rows)


def place_of(row: Place) -> terms.Place:
    return terms.Place(
        key=str(row.pk),
        name=row.name,
        kinds=frozenset(row.kinds),
        measure="positions" if row.measure == Place.Measure.POSITIONS else "area",
        capacity=row.capacity,
        warmth=terms.Warmth(
            usual=row.temperature,
            spells=tuple((terms.Span(s.first, s.last), s.degrees) for s in row.temperatures.all()),
        ),
        open_spans=tuple(terms.Span(o.first, o.last) for o in row.openings.all()),
    )


def people() -> tuple[terms.Person, ...]:
    rows = Person.objects.filter(active=True).prefetch_related("skills", "absences", "hours_by_part")
    return tuple(person_of(row) for row in rows)


def person_of(row: Person) -> terms.Person:
    return terms.Person(
        key=str(row.pk),
        name=row.name,
        skills=frozenset(skill.name for skill in row.skills.all()),
        hours=cast("tuple[float, float, float, float, float, float, float]", tuple(map(float, row.hours))),
        care_hours=float(row.care_hours),
        away=tuple(terms.Span(a.first, a.last) for a in row.absences.all()),
        **_by_part(row),
    )


def _by_part(row: Person) -> dict[str, terms.SaidByWeekday]:
    """Hours said to lie in a part of the day; never more than the day has, should its hours have become fewer."""
    left, said = [float(hours) for hours in row.hours], dict[str, terms.SaidByWeekday]()
    for part in row.hours_by_part.all():
        pairs = list(zip(part.hours, left, strict=True))
        hours = [None if each is None else min(float(each), most) for each, most in pairs]
        left = [most - (each or 0.0) for each, most in zip(hours, left, strict=True)]
        said[f"{part.part}s"] = cast("terms.SaidByWeekday", tuple(hours))
    return said


def container_of(row: Container) -> terms.Container:
    return terms.Container(
        key=str(row.pk), name=row.name, plants=row.plants, positions=row.positions, area=row.area
    )
