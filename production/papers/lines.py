"""What several papers say of an order line, in words and days. Nothing here writes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders.days import days_words
from orders.models import Nursery, OrderLine
from orders.strand import Strand

from .. import bridge
from ..models import Allocation, Part, Place
from ..planning import terms
from ..planning.calendar import next_open
from ..strands import strand_of


@dataclass(frozen=True, slots=True)
class Window:
    """The days on which the customer may come: open ones, at least one, in their order."""

    open: tuple[date, ...]

    @property
    def first(self) -> date:
        return self.open[0]

    @property
    def last(self) -> date:
        return self.open[-1]

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1

    def words(self, than: date) -> str:
        """'Fri 23 April and Mon 26 April', where we are closed on the days between."""
        return days_words(self.open, than)


def window_of(line: OrderLine, calendar: terms.Calendar, *, since: date | None = None) -> Window:
    """From the pickup promised, or from `since` if that is later: as many days as the line has for collecting."""
    promised = line.pickup or line.pickup_asked
    first = next_open(calendar, max(promised, since or promised))
    span = [first + timedelta(days=n) for n in range(max(line.collection_days, 1))]
    return Window(tuple(day for day in span if calendar.is_open(day)) or (first,))


@dataclass(frozen=True, slots=True)
class Behind:
    """What stands behind the lines of an order, read once for all of them: the open days, and strands by line."""

    calendar: terms.Calendar
    strands: Mapping[int, tuple[Strand, ...]]


def behind(lines: Iterable[OrderLine], nursery: Nursery, *, today: date | None = None) -> Behind:
    """Strands on paper, which is read on many days, are drawn without a today."""
    cold = frozenset(str(place.pk) for place in Place.objects.all() if place.kinds == [terms.COLD])
    rows = {line.pk: line for line in lines}
    strands: dict[int, tuple[Strand, ...]] = dict.fromkeys(rows, ())
    for allocation in _allocations(rows):
        line = rows[allocation.line_id]
        strand = strand_of(
            bridge.part_plan_of(allocation.part),
            method=line.method,
            pickup=line.pickup,
            collection=max(line.collection_days, 1),
            today=today,
            cold_places=cold,
        )
        strands[line.pk] += (strand,)
    return Behind(bridge.calendar_of(nursery), strands)


def _allocations(lines: Collection[int]) -> QuerySet[Allocation]:
    """The parts whose plants are meant for these lines, in the order of their batches."""
    return (
        Allocation.objects.filter(line__in=lines)
        .exclude(part__state=Part.State.DROPPED)
        .select_related("part__batch")
        .prefetch_related("part__sowings", "part__stays", "part__works")
        .order_by("part__batch_id", "part__number")
    )


def named(line: OrderLine) -> dict[str, Any]:
    """What the line is for, how many of it, and how it is grown; words are those of the reader's language."""
    return {
        "number": line.number,
        "kind": line.kind,
        "what": line.what,
        "quantity": line.quantity,
        "unit": unit_of(line),
        "grafted": line.kind == OrderLine.Kind.GRAFTED,
        "method": str(line.get_method_display()) if line.kind == OrderLine.Kind.GRAFTED else "",
        "leaders": "" if line.kind == OrderLine.Kind.ROOM else leader_words(line),
        "container": str(line.container),
    }


def unit_of(line: OrderLine) -> str:
    """'plants', or 'trays' of room, to follow the line's quantity."""
    if line.kind == OrderLine.Kind.ROOM:
        return ngettext("tray", "trays", line.quantity)
    return ngettext("plant", "plants", line.quantity)


def leader_words(line: OrderLine) -> str:
    """One leader goes without saying; whose work the second one is does not."""
    if line.leaders == OrderLine.Leaders.TWO_TOPPED:
        return _("Two leaders: topped here above the cotyledons.")
    if line.leaders == OrderLine.Leaders.TWO_SIDE_SHOOT:
        return _(
            "Two leaders from a side shoot: the plants leave us with one leader. The second is your work: "
            "keep the side shoot below the first blossom and train it up."
        )
    return ""
