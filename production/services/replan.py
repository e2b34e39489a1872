"""Moving a part's plan on with what has happened: the past as it was, the rest with it.

Whatever is recorded marks its part (`touch`) inside its transaction: the revision grows, the batch is stale, and a
job is written. Right after the commit the same request plans the part again (`roll_part`): it reads, computes
without any transaction, and stores in a short one, only if nothing was recorded meanwhile. If the request dies in
between, the job does it. So no solving ever holds the database, and nobody waits for a worker to see new dates.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import F, Q, prefetch_related_objects

from orders.jobs import enqueue, handler
from orders.models import Nursery, OrderLine
from orders.services import mark_growing

from .. import bridge
from ..models import Batch, Part, Stay, Work
from ..planning import terms
from ..planning.rolling import roll
from ..queries.works import label_of
from . import stays
from .common import locked
from .promise import lock_the_plan
from .rolled import store_rolled

log = logging.getLogger(__name__)

TRIES = 4  # when others record on the same part while we compute
ALIVE = (Part.State.ALIVE, Part.State.READY)


def touch(part: Part) -> None:
    """Say, inside the transaction that records, that the plan of this part is older than what is known."""
    Part.objects.filter(pk=part.pk).update(revision=F("revision") + 1)
    Batch.objects.filter(pk=part.batch_id).update(stale=True)
    part.refresh_from_db(fields=["revision"])
    enqueue("replan", f"replan:{part.pk}:{part.revision}", {"part": part.pk})


@handler("replan")
def replan_job(payload: dict[str, Any]) -> None:
    """Plan a part again if that was not done at once."""
    part = Part.objects.select_related("batch").filter(pk=payload["part"]).first()
    if part and part.batch.stale:
        roll_part(part.pk, Nursery.current().today())


def roll_parts(parts: Iterable[int], today: date) -> None:
    for part in dict.fromkeys(parts):
        roll_part(part, today)


def roll_part(pk: int, today: date, *, not_before: date | None = None) -> None:
    """Plan the rest of a part again from all that is recorded; what is left begins `not_before` at soonest."""
    for _try in range(TRIES):
        part = bridge.living_parts().filter(pk=pk).first()
        if part is None:  # gone or dropped: nothing left to plan
            Batch.objects.filter(parts__pk=pk).update(stale=False)
            return
        if stays.borders_due(part, today):
            with transaction.atomic():
                crossing = locked(part)
                prefetch_related_objects([crossing], "stays", "works", "batch__protocol__stages__works")
                stays.cross_by_itself(crossing, today)
            part = bridge.living_parts().get(pk=pk)
        rolled = _rolled(part, max(today, not_before or today))
        with transaction.atomic():
            lock_the_plan()  # a promise being given at this moment must see the one or the other
            now = locked(part)
            if now.revision == part.revision:
                store_rolled(now, rolled, today=today, not_before=not_before)
                return
    log.warning("Part %s changes faster than it can be planned; its job tries again.", pk)


def _rolled(part: Part, from_day: date) -> terms.Rolled | str:
    """The part rolled, or, when the planner finds no way at all, its words for that."""
    nursery = Nursery.current()
    season = bridge.season_of(from_day, nursery=nursery, without_parts=(part.pk,))
    try:
        wish = wish_of_part(part, nursery)
        return roll(season, bridge.part_plan_of(part), wish, bridge.facts_of(part), part.pickup)
    except terms.Impossible as trouble:
        return str(trouble)


def wish_of_part(part: Part, nursery: Nursery) -> terms.Wish:
    """What a part is grown for, at the size of the part; for plants nobody ordered, as if one asked for them."""
    planned_with = part.batch.protocol_id
    protocol = bridge.protocols().get(pk=planned_with) if planned_with else None
    allocation = next(iter(part.allocations.all()), None)
    line = allocation.line if allocation else _line_as_if(part)
    return bridge.wish_of(
        line,
        nursery=nursery,
        protocol=protocol,
        pickup=part.pickup,
        quantity=part.plants,
        key=f"part:{part.pk}",
        label=label_of(part),
    )


def _line_as_if(part: Part) -> OrderLine:
    batch = part.batch
    return OrderLine(
        kind=batch.kind,
        scion=batch.scion,
        rootstock=batch.rootstock,
        method=batch.method,
        leaders=OrderLine.Leaders.TWO_TOPPED if part.topped else OrderLine.Leaders.ONE,
        container=part.container,
        quantity=part.plants,
        pickup_asked=part.pickup,
    )


# --- day by day -----------------------------------------------------------------------------------------------


def behind(today: date) -> list[int]:
    """Parts with work or borders that a day before today should have seen, and not yet planned again today."""
    overdue = Q(works__state=Work.State.PLANNED, works__day__lt=today)
    waiting = Q(stays__entered=False, stays__first__lte=today)
    parts = Part.objects.filter(overdue | waiting, state__in=bridge.LIVING).distinct()
    return list(parts.exclude(rolled_on__gte=today).order_by("pk").values_list("pk", flat=True))


def roll_over(today: date) -> int:
    """Plan yesterday's unrecorded work for today, with all that follows; how many parts moved.

    Safe to call at any time: a part is rolled over once a day, and on a quiet day this is one query.
    """
    parts = behind(today)
    roll_parts(parts, today)
    begin_rooms(today)
    return len(parts)


def begin_rooms(today: date) -> None:
    """Room that a customer takes for some nights begins by itself: its line grows and its part lives."""
    begun = Stay.objects.filter(
        subject="room", entered=True, part__state=Part.State.PLANNED, first__lte=today
    ).values_list("part_id", flat=True)
    for part in Part.objects.filter(pk__in=list(begun)).prefetch_related("allocations__line"):
        with transaction.atomic():
            Part.objects.filter(pk=part.pk).update(state=Part.State.ALIVE)
            for allocation in part.allocations.all():
                mark_growing(line=allocation.line, by=None)
