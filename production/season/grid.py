"""The grid of the season page: places and hands by week or by day, load over capacity, each box a way closer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from django.urls import reverse
from django.utils.translation import gettext as _

from ..planning import terms
from ..planning.hands import Ask, SkillSet, ask_key, ask_of
from ..planning.load import EASE, Floats, Load
from ..sheet import Row, bars
from ..words import hands_words
from .scope import Scope

HALF_FULL = 0.5  # from which share of its hours on a set of skills may bind


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
    """A row for each place, and for the sets of skills that tell something; of `scope.at` alone, if any."""
    places = [place for place in load.season.places if scope.at in ("", place_at(place))]
    begins = max(load.index(scope.first), 0)
    days = slice(begins, max(load.index(scope.first) + scope.days, begins))
    hands = [index for index, skills in enumerate(load.sets) if scope.at == hands_at(skills)]
    return (
        *(_place_row(load, place, scope) for place in places),
        *(_hands_row(load, index, scope) for index in hands or (telling(load, days) if not scope.at else ())),
    )


def used(rows: Sequence[Row]) -> int:
    """How many columns there are up to the last in which anything stands or is done."""
    return max((n for row in rows for n, box in enumerate(row.boxes, start=1) if box.load), default=0)


def cut(rows: Sequence[Row], columns: int) -> tuple[Row, ...]:
    """The rows with their first columns only."""
    return tuple(replace(row, boxes=row.boxes[:columns]) for row in rows)


def telling(load: Load, days: slice) -> list[int]:
    """Which sets of skills are worth a row on these days, by their index in the load.

    One in which all work is counted; and of the others those that are overloaded or, on some day, the tightest of
    all and more than half full. The rest hold only what another row says more sharply.
    """
    asked, there = load.asked[:, days], load.hours[:, days]
    if not asked.any():
        return []
    share = np.divide(asked, there, out=np.where(asked > EASE, np.inf, 0.0), where=there > 0)
    binding = (share == share.max(axis=0)) & (share > HALF_FULL) | (asked > there + EASE)
    totals = asked.sum(axis=1)
    whole = int(np.argmax(totals >= totals.max() - EASE))
    return [index for index in range(len(load.sets)) if index == whole or binding[index].any()]


def _place_row(load: Load, place: terms.Place, scope: Scope) -> Row:
    row = load.row[place.key]
    unit = _("trays") if place.measure == "positions" else _("m²")
    used, there = by_day(load, load.used[row], scope), by_day(load, load.capacity[row], scope)
    url = reverse("place", args=[int(place.key)])
    return _linked(scope, place_at(place), place.name, f"{place.capacity:g} {unit}", used, there, url)


def _hands_row(load: Load, index: int, scope: Scope) -> Row:
    skills = load.sets[index]
    asked, there = by_day(load, load.asked[index], scope), by_day(load, load.hours[index], scope)
    name = hands_words(skills.told)
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
