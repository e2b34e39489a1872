"""Who stands in one place of the season, or asks for one set of hands, in the shown days: largest first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Prefetch
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from ..models import Allocation, Part
from ..planning.hands import ANY_TIME, Ask
from ..queries.works import label_of
from .batches import PageNumber, stays_within, works_within
from .grid import asks_at
from .scope import Scope

ROWS = 25


@dataclass(frozen=True, slots=True)
class Standing:
    """A batch in the place, or asking for the hands, that is looked at; `amount` at its most, in words."""

    part: Part
    label: str
    amount: str
    first: date
    last: date


def standing(scope: Scope, number: PageNumber = 1) -> Page[Standing]:
    """Who stands in the place (or asks for the hands) that the scope names, largest first; a page of them."""
    kind, _dash, name = scope.at.partition("-")
    taken = _taken_of(scope, name) if kind == "place" else _asked_of(scope, asks_at(scope.at))
    ordered = sorted(taken.items(), key=lambda each: (-each[1][0], each[1][1], each[0]))
    page: Page[Any] = Paginator(ordered, ROWS).get_page(number)
    rows = named([pk for pk, _taken in page])
    unit = "" if kind == "place" else _(" h")
    page.object_list = [
        Standing(rows[pk], label_of(rows[pk]), amount_words(most) + unit, first, last)
        for pk, (most, first, last) in page
    ]
    return page


Taken = tuple[float, date, date]  # the most on any night (or the hours in all), from the first to the last day


def _taken_of(scope: Scope, place: str) -> dict[int, Taken]:
    nights: dict[int, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    spans: dict[int, list[date]] = defaultdict(list)
    rows = stays_within(scope).filter(place=int(place)).values_list("part_id", "first", "nights", "load")
    for part, first, count, load in rows:
        for number in range(count):
            night = first + timedelta(days=number)
            if scope.first <= night <= scope.last:
                nights[part][night] += load
        spans[part] += [first, first + timedelta(days=count - 1)]
    return {part: (max(each.values()), min(spans[part]), max(spans[part])) for part, each in nights.items()}


def _asked_of(scope: Scope, asks: Collection[Ask]) -> dict[int, Taken]:
    found: dict[int, Taken] = {}
    rows = works_within(scope).values_list("part_id", "day", "part_of_day", "hours")
    for part, day, of_day, hours in rows:
        asked = sum(float(each) for skill, each in hours if {(skill, ANY_TIME), (skill, of_day)} & set(asks))
        if asked:
            before, first, last = found.get(part, (0.0, day, day))
            found[part] = (before + asked, min(first, day), max(last, day))
    return found


def named(keys: Collection[int]) -> dict[int, Part]:
    lines = Allocation.objects.select_related("line__order")
    parts = Part.objects.filter(pk__in=keys).select_related("batch__scion", "batch__rootstock")
    return {part.pk: part for part in parts.prefetch_related(Prefetch("allocations", queryset=lines))}


def amount_words(value: float) -> str:
    return number_format(round(value, 1) if value % 1 else round(value), use_l10n=True)
