"""Everything on the season page for one scope. Reads only, and only what touches the shown days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.core.paginator import Page, Paginator

from orders.models import Nursery

from ..answers import conflict_sentence
from ..planning import terms
from ..planning.hands import ANY_TIME, asks_of
from ..sheet import Band, Line, Sheet
from .batches import ALL, PageNumber, Wanted, strands, strands_of
from .carried import carried
from .day import DayView, day_view
from .grid import asks_at, cut, rows_of, used
from .pinches import MOST, Pinch, pinches
from .scope import Scope
from .standing import Standing, standing

SPARE, LEAST = 4, 12  # empty weeks of a year below its work, and the weeks of a year with little or none


@dataclass(frozen=True, slots=True)
class SeasonPage:
    """`batches` and `pinched` are the pages of strands and of conflicts that are shown; None where none are.

    `stands` lists who is in the one box that is looked at, `day` is what a single day looks like.
    From `free` to the end of a year nothing stands and nothing is to do, and no week is drawn.
    """

    scope: Scope
    sheet: Sheet
    pinches: tuple[Pinch, ...]
    pinched: Page[terms.Conflict]
    batches: Page[int] | None = None
    stands: Page[Standing] | None = None
    day: DayView | None = None
    free: date | None = None


def season_page(
    scope: Scope,
    nursery: Nursery,
    *,
    wanted: Wanted = ALL,
    number: PageNumber = 1,
    conflicts: PageNumber = 1,
) -> SeasonPage:
    """`number` and `conflicts` are the pages of strands (or of stands) and of conflicts that are asked for."""
    held = carried(scope, nursery)
    found = [each for each in held.conflicts if scope.at in ("", _at(each, scope))]
    pinched: Page[terms.Conflict] = Paginator(found, MOST).get_page(conflicts)
    lines: tuple[Line, ...] = ()
    batches = stands = None
    if scope.at:
        stands = standing(scope, number)
        lines = strands_of([each.part.pk for each in stands], scope) if scope.view != "year" else ()
    elif scope.view in ("weeks", "week"):
        lines, batches = strands(scope, wanted, found, number)
    rows, columns = rows_of(held.load, scope), scope.columns
    if scope.view == "year":
        columns = columns[: max(used(rows) + SPARE, LEAST)]
    sheet = Sheet(
        weeks=columns,
        rows=cut(rows, len(columns)),
        lines=lines,
        bands=tuple(Band(each.first, each.last, conflict_sentence(each)) for each in found),
        today=scope.today,
        step=scope.step,
        urls=tuple(scope.closer(column) for column in columns),
    )
    return SeasonPage(
        scope=scope,
        sheet=sheet,
        pinches=tuple(pinches(held.ahead, list(pinched), scope)),
        pinched=pinched,
        batches=batches,
        stands=stands,
        day=day_view(held.load, scope) if scope.view == "day" else None,
        free=scope.columns[len(columns)] if len(columns) < len(scope.columns) else None,
    )


def _at(conflict: terms.Conflict, scope: Scope) -> str:
    """Where a conflict lies, as the address names it; hands by the address itself where that names the skills."""
    if conflict.resource == "place":
        return f"place-{conflict.key}"
    asked = asks_at(scope.at)
    named = ({ask, (ask[0], ANY_TIME)} for ask in asks_of(conflict.key))
    return scope.at if all(each & asked for each in named) else ""
