"""The season sheet: what is to come, to hang on the wall. Weeks by places, conflicts, pickups."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from typing import Any

from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from orders.days import day_words
from orders.documents import letterhead
from orders.models import Nursery, OrderLine
from orders.queries import lines

from ..answers import conflict_sentence
from ..planning.calendar import week_of
from ..season.carried import carried
from ..season.charts import COUNTING, pickups
from ..season.grid import rows_of
from ..season.scope import Scope
from ..sheet import Box

MOST = 40  # lines that are named one by one: of more a wall says only the sums, and setting a row takes 8 ms


def season_sheet_data(*, today: date, nursery: Nursery) -> dict[str, Any]:
    """From this week on, a year at most; weeks after the last with anything in them are left out."""
    scope = Scope("year", week_of(today, nursery.first_weekday), today, nursery.first_weekday)
    held = carried(scope, nursery)
    rows = rows_of(held.load, scope)
    fetched = {week.week: week for week in pickups(scope).weeks if week.orders}
    used = [week for n, week in enumerate(scope.columns) if any(row.boxes[n].load for row in rows)]
    last = max([scope.columns[0], *used, *fetched])
    named, left_out = _named(scope)
    return {
        "nursery": letterhead(nursery),
        "title": _("The season from %(day)s") % {"day": day_words(scope.first, today)},
        "today": today,
        "heads": [(row.label, row.room) for row in rows],
        "weeks": [
            {"week": week, "boxes": [_box(row.boxes[n]) for row in rows], "fetched": fetched.get(week)}
            for n, week in enumerate(scope.columns)
            if week <= last
        ],
        "conflicts": [conflict_sentence(each) for each in held.conflicts],
        "pickups": named,
        "left_out": left_out,
    }


def _box(box: Box) -> dict[str, Any]:
    return {"load": box.load, "capacity": box.capacity, "over": box.over > 0}


def _named(scope: Scope) -> tuple[list[tuple[date, list[OrderLine]]], int]:
    """The customers' lines by week of pickup, or none and how many there are where they are too many."""
    rows = lines().filter(state__in=COUNTING, order__own_crop=False).exclude(kind=OrderLine.Kind.ROOM)
    rows = rows.annotate(day=Coalesce("pickup", "pickup_asked")).filter(day__range=(scope.first, scope.last))
    if (number := rows.count()) > MOST:
        return [], number
    by_week = groupby(rows.order_by("day", "order_id", "number"), key=lambda line: week_of(line.day, scope.begins))
    return [(week, list(of_week)) for week, of_week in by_week], 0
