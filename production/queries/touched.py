"""Which parts a changed calendar, place or person concerns: querysets, so that asking is one query."""

from __future__ import annotations

from collections.abc import Iterable, Set
from datetime import date, timedelta

from django.db.models import Q, QuerySet

from ..models import Part, Stay, Work
from ..planning import terms

LIVING = (Part.State.PLANNED, Part.State.ALIVE, Part.State.READY)
FURTHEST = 14  # days to either side in which the next open day is looked for


def standing_in(place: int) -> QuerySet[Part]:
    """Parts that stand in a place, or are to."""
    stays = Stay.objects.filter(place=place, left=False)
    return Part.objects.filter(state__in=LIVING, pk__in=stays.values_list("part"))


def working_on(days: Iterable[date]) -> QuerySet[Part]:
    """Parts with work, still to be done on one of these days, that may not fall on a closed one."""
    return _working(Q(day__in=list(days)))


def working_on_weekdays(weekdays: Set[int], *, today: date) -> QuerySet[Part]:
    """The same of all such weekdays (Monday 0) to come."""
    return _working(Q(day__gte=today, day__iso_week_day__in=[number + 1 for number in weekdays]))


def working_between(first: date, last: date) -> QuerySet[Part]:
    return _working(Q(day__gte=first, day__lte=last))


def next_to(day: date, calendar: terms.Calendar) -> list[date]:
    """The day, and the open days before and after it: work that was kept off it stands there."""
    found = [day]
    for step in (-1, 1):
        days = (day + timedelta(days=step * by) for by in range(1, FURTHEST + 1))
        found += [next_day for next_day in days if calendar.is_open(next_day)][:1]
    return found


def _working(when: Q) -> QuerySet[Part]:
    works = Work.objects.filter(when, state=Work.State.PLANNED, care=False)
    return Part.objects.filter(state__in=LIVING, pk__in=works.values_list("part"))
