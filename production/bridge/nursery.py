"""The nursery itself as terms: calendar, places, people, containers."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, cast

from orders.models import Container, Nursery

from ..models import ClosedDay, Person, PersonAbsence, PersonPart, Place
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
    """Read for every answer of the desk, and so in as few objects as can be."""
    rows = Person.objects.filter(active=True)
    skills = _by_person(Person.skills.through.objects.values_list("person_id", "skill__name"))
    away = _by_person(PersonAbsence.objects.values_list("person_id", "first", "last"))
    parts = _by_person((part.person_id, part) for part in PersonPart.objects.all())
    return tuple(
        _person(
            row,
            (name for (name,) in skills.get(row.pk, ())),
            (terms.Span(first, last) for first, last in away.get(row.pk, ())),
            (part for (part,) in parts.get(row.pk, ())),
        )
        for row in rows
    )


def _by_person(rows: Iterable[tuple[Any, ...]]) -> dict[int, list[tuple[Any, ...]]]:
    found: dict[int, list[tuple[Any, ...]]] = {}
    for person, *rest in rows:
        found.setdefault(person, []).append(tuple(rest))
    return found


def person_of(row: Person) -> terms.Person:
    return _person(
        row,
        (skill.name for skill in row.skills.all()),
        (terms.Span(absence.first, absence.last) for absence in row.absences.all()),
        row.hours_by_part.all(),
    )


def _person(
    row: Person, skills: Iterable[str], away: Iterable[terms.Span], parts: Iterable[PersonPart]
) -> terms.Person:
    return terms.Person(
        key=str(row.pk),
        name=row.name,
        skills=frozenset(skills),
        hours=cast("tuple[float, float, float, float, float, float, float]", tuple(map(float, row.hours))),
        care_hours=float(row.care_hours),
        away=tuple(away),
        **_by_part(row, parts),
    )


def _by_part(row: Person, parts: Iterable[PersonPart]) -> dict[str, terms.SaidByWeekday]:
    """Hours said to lie in a part of the day; never more than the day has, should its hours have become fewer."""
    left, said = [float(hours) for hours in row.hours], dict[str, terms.SaidByWeekday]()
    for part in parts:
        pairs = list(zip(part.hours, left, strict=True))
        hours = [None if each is None else min(float(each), most) for each, most in pairs]
        left = [most - (each or 0.0) for each, most in zip(hours, left, strict=True)]
        said[f"{part.part}s"] = cast("terms.SaidByWeekday", tuple(hours))
    return said


def container_of(row: Container) -> terms.Container:
    return terms.Container(
        key=str(row.pk), name=row.name, plants=row.plants, positions=row.positions, area=row.area
    )
