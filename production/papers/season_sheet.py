"""The season sheet: what is to come, to hang on the wall. Weeks by places, conflicts, orders by week of pickup."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
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
from ..season.charts import COUNTING, loads_of
from ..season.scope import Scope
from ..sheet import Box

MOST = 300  # lines of orders; a wall has no room for more


def season_sheet_data(*, today: date, nursery: Nursery) -> dict[str, Any]:
    """From this week on, a year at most; weeks after the last with anything in them are left out."""
    scope = Scope("year", week_of(today, nursery.first_weekday), today, nursery.first_weekday)
    held = carried(scope, nursery)
    shown = loads_of(held.load, scope)
    fetched, left_out = _fetched(scope)
    last = max(
        [shown.weeks[0], *(week for week, boxes in shown.by_week if any(box.load for box in boxes)), *fetched]
    )
    return {
        "nursery": letterhead(nursery),
        "title": _("The season from %(day)s") % {"day": day_words(scope.first, today)},
        "today": today,
        "heads": [(row.label, row.room) for row in shown.rows],
        "weeks": [
            {"week": week, "boxes": [_box(box) for box in boxes]} for week, boxes in shown.by_week if week <= last
        ],
        "conflicts": [conflict_sentence(each) for each in held.conflicts],
        "pickups": sorted(fetched.items()),
        "left_out": left_out,
    }


def _box(box: Box) -> dict[str, Any]:
    return {"load": box.load, "capacity": box.capacity, "over": box.over > 0}


def _fetched(scope: Scope) -> tuple[dict[date, list[dict[str, Any]]], int]:
    """By week, the customers' lines to be fetched then, the earliest first; and how many more there are."""
    rows = lines().filter(state__in=COUNTING, order__own_crop=False).exclude(kind=OrderLine.Kind.ROOM)
    rows = rows.annotate(day=Coalesce("pickup", "pickup_asked")).filter(day__range=(scope.first, scope.last))
    found: dict[date, list[dict[str, Any]]] = defaultdict(list)
    for line in rows.order_by("day", "order_id", "number")[:MOST]:
        found[week_of(line.day, scope.begins)].append(
            {
                "day": line.day,
                "line": str(line),
                "who": line.order.who,
                "what": line.what,
                "plants": line.quantity,
                "container": str(line.container),
                "state": line.get_state_display(),
            }
        )
    return dict(found), max(rows.count() - MOST, 0)
