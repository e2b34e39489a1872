"""Trouble ahead, for the first minute of the day: conflicts soon, orders that may run short or come late."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from django.db.models import Q, QuerySet

from orders.models import Nursery, OrderLine

from .. import at_hand, bridge
from ..models import Allocation, Part
from ..planning.terms import Conflict
from .shares import GROWING

SOON = 21  # days ahead, today the first


def conflicts_soon(today: date, nursery: Nursery) -> list[Conflict]:
    """Those that begin within three weeks, the earliest first."""
    last = today + timedelta(days=SOON - 1)
    _load, found = at_hand.pinched(today, nursery)
    return [each for each in found if each.first <= last]


def at_risk(nursery: Nursery) -> Q:
    """Parts that grow and whose chance of filling their orders has fallen below the nursery's service level."""
    low = Q(state__in=GROWING, chance__lt=nursery.service_level - 0.0005)
    return low & ~Q(batch__kind=OrderLine.Kind.ROOM)


def running_late(_nursery: Nursery) -> Q:
    """Living parts that cannot keep the last day promised."""
    return Q(state__in=bridge.LIVING, late_by__gt=0)


def lines_of(parts: Q) -> Sequence[Allocation]:
    """What the parts are meant for, each line once, the earliest pickup first; none for our own crop."""
    wanted: QuerySet[Part] = Part.objects.filter(parts)
    rows = Allocation.objects.filter(part__in=wanted, line__order__own_crop=False)
    rows = rows.select_related("line__order__customer", "part__batch").order_by("part__pickup", "pk")
    return list({row.line_id: row for row in reversed(rows)}.values())[::-1]


# What a list of batches may be limited to, by the word in its address.
ONLY: dict[str, Callable[[Nursery], Q]] = {"late": running_late, "risk": at_risk}
