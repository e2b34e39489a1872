"""The grid of the season page: places and hands by week or by day, load over capacity, each box a way closer."""

from __future__ import annotations

from datetime import date

from django.urls import reverse
from django.utils.translation import gettext as _

from ..planning import terms
from ..planning.hands import Ask, SkillSet, ask_key, ask_of
from ..planning.load import Floats, Load
from ..sheet import Row, bars
from ..words import hands_words
from .scope import Scope


def place_at(place: terms.Place) -> str:
    """How an address names a place."""
    return f"place-{place.key}"


def hands_at(skills: SkillSet) -> str:
    """How an address names a set of skills."""
    return "hands-" + ",".join(map(ask_key, skills.told))


def asks_at(at: str) -> set[Ask]:
    """What an address of hands names."""
    return set(map(ask_of, at.removeprefix("hands-").split(",")))


def rows_of(load: Load, scope: Scope) -> tuple[Row, ...]:
    """A row for each place, and for each set of skills that is asked for; of `scope.at` alone, if any."""
    rows = [_place_row(load, place, scope) for place in load.season.places if scope.at in ("", place_at(place))]
    for index, skills in enumerate(load.sets):
        if load.asked[index].any() and scope.at in ("", hands_at(skills)):
            rows.append(_hands_row(load, index, scope))
    return tuple(rows)


def _place_row(load: Load, place: terms.Place, scope: Scope) -> Row:
    row = load.row[place.key]
    unit = _("trays") if place.measure == "positions" else _("m²")
    used, there = by_day(load, load.used[row], scope), by_day(load, load.capacity[row], scope)
    url = reverse("place", args=[int(place.key)])
    return _linked(scope, place_at(place), place.name, f"{place.capacity:g} {unit}", used, there, url)


def _hands_row(load: Load, index: int, scope: Scope) -> Row:
    skills = load.sets[index]
    asked, there = by_day(load, load.asked[index], scope), by_day(load, load.hours[index], scope)
    name = _("Hands: %(skills)s") % {"skills": hands_words(skills.told, _(" or "))}
    most = _("%(n)s h a day at most") % {"n": f"{max(there.values(), default=0):g}"}
    return _linked(scope, hands_at(skills), name, most, asked, there)


def _linked(
    scope: Scope,
    at: str,
    name: str,
    room: str,
    load: dict[date, float],
    there: dict[date, float],
    url: str = "",
) -> Row:
    row = bars(name, room, scope.columns, load, there, url, scope.step)
    boxes = tuple(box.opening(scope.closer(box.week, at)) for box in row.boxes)
    return Row(row.label, row.room, boxes, url)


def by_day(load: Load, of: Floats, scope: Scope) -> dict[date, float]:
    """A row of the load by the days that are shown."""
    begins = load.index(scope.first)
    return {day: float(of[begins + n]) for n, day in enumerate(scope.each_day) if 0 <= begins + n < load.size}
