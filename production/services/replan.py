"""Moving a part's plan on with what has happened: the past as it was, the rest with it.

Whatever is recorded marks its part (`touch`) inside its transaction: the revision grows, the batch is stale, and a
job is written. Right after the commit the same request plans the part again (`roll_part`): it reads, computes
without any transaction, and stores in a short one, only if nothing was recorded meanwhile. If the request dies in
between, the job does it. So no solving ever holds the database, and nobody waits for a worker to see new dates.
"""

from __future__ import annotations

import logging
import uuid
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import F, QuerySet, prefetch_related_objects
from django.utils.translation import gettext as _

from orders.jobs import enqueue, handler
from orders.models import Nursery
from orders.services import mark_growing

from .. import at_hand, bridge
from ..models import Batch, Part, Protocol, Stay, Work
from ..planning import check, terms
from ..planning.rolling import roll
from ..shared import wish_of_part
from ..words import fault_words
from . import holding, stays
from .common import locked
from .judging import lock_the_plan
from .rolled import store_rolled

log = logging.getLogger(__name__)

FOR_CROSSING = ("stays", "works", "batch__protocol__stages__works")
AT_ONCE = 200  # parts read together
TRIES = 4  # when others record on the same part while we compute
ALIVE = (Part.State.ALIVE, Part.State.READY)


def touch(part: Part) -> None:
    """Say, inside the transaction that records, that the plan of this part is older than what is known."""
    Part.objects.filter(pk=part.pk).update(revision=F("revision") + 1)
    Batch.objects.filter(pk=part.batch_id).update(stale=True)
    part.refresh_from_db(fields=["revision"])
    enqueue("replan", f"replan:{part.pk}:{part.revision}", {"part": part.pk})


def touch_all(parts: QuerySet[Part]) -> int:
    """The same for all parts that a change of the nursery concerns, with one job for them; how many they are.

    The locks are taken in the order of keys, as whoever else takes several does.
    """
    with transaction.atomic():
        pks = list(parts.order_by("pk").select_for_update().values_list("pk", flat=True))
        if not pks:
            return 0
        Part.objects.filter(pk__in=pks).update(revision=F("revision") + 1)
        Batch.objects.filter(parts__in=pks).update(stale=True)
        enqueue("replan_parts", f"replan:{uuid.uuid4()}", {"parts": pks})
    return len(pks)


@handler("replan_parts")
def replan_parts_job(payload: dict[str, Any]) -> None:
    """Plan those again that nobody has planned again since."""
    stale = Part.objects.filter(pk__in=payload["parts"], batch__stale=True).order_by("pk")
    roll_parts(stale.values_list("pk", flat=True), Nursery.current().today())


@handler("replan")
def replan_job(payload: dict[str, Any]) -> None:
    """Plan a part again if that was not done at once."""
    part = Part.objects.select_related("batch").filter(pk=payload["part"]).first()
    if part and part.batch.stale:
        roll_part(part.pk, Nursery.current().today())


def roll_part(pk: int, today: date, *, not_before: date | None = None) -> None:
    """Plan the rest of a part again from all that is recorded; what is left begins `not_before` at soonest."""
    roll_parts([pk], today, not_before=not_before)


def roll_parts(parts: Iterable[int], today: date, *, not_before: date | None = None) -> None:
    """Plan parts again one after another, beside a season that is read once for all of them."""
    asked = list(dict.fromkeys(parts))
    if not asked:
        return
    around = Around(max(today, not_before or today))
    for start in range(0, len(asked), AT_ONCE):
        some = asked[start : start + AT_ONCE]
        living = {part.pk: part for part in bridge.living_parts().filter(pk__in=some)}
        for pk in some:
            with suppress(Part.DoesNotExist):  # its line was moved meanwhile: nothing left to plan
                _roll(pk, living.get(pk), around, today, not_before)
            if pk != asked[-1]:
                around.taken.read_again(pk)


class Around:
    """What parts are planned again beside, and with."""

    def __init__(self, from_day: date, taken: bridge.Taken | None = None) -> None:
        self.nursery = Nursery.current()
        self.taken = taken or at_hand.taken(from_day, self.nursery)
        self._protocols: dict[int, Protocol] = {}

    def as_of_now(self, nursery: Nursery) -> terms.Season:
        """What the referee looks at, read again: the calendar and the places."""
        return replace(self.taken.empty, calendar=bridge.calendar_of(nursery), places=bridge.places())

    def protocol(self, pk: int | None) -> Protocol | None:
        if pk is None:
            return None
        if pk not in self._protocols:
            self._protocols[pk] = bridge.protocols().get(pk=pk)
        return self._protocols[pk]


def _roll(pk: int, part: Part | None, around: Around, today: date, not_before: date | None) -> None:
    """One part, until it is stored as nobody changed it meanwhile; `part` as it was read a moment ago."""
    for _try in range(TRIES):
        if part is None:  # gone or dropped: nothing left to plan
            Batch.objects.filter(parts__pk=pk).update(stale=False)
            return
        if stays.borders_due(part, today):
            with transaction.atomic():
                crossing = locked(part)
                prefetch_related_objects([crossing], *FOR_CROSSING)
                stays.cross_by_itself(crossing, today)
            part = bridge.living_parts().get(pk=pk)
        wish = _wish_of(part, around)
        rolled = _rolled(part, wish, around)
        with transaction.atomic():
            nursery = lock_the_plan()  # a promise being given at this moment must see the one or the other
            now = locked(part)
            if now.revision == part.revision:
                season = around.as_of_now(nursery)
                judged = _judged(part, wish, rolled, season)
                store_rolled(now, judged, calendar=season.calendar, today=today, not_before=not_before)
                return
        part = bridge.living_parts().filter(pk=pk).first()
    log.warning("Part %s changes faster than it can be planned; its job tries again.", pk)


def what_if(part: Part, around: Around) -> tuple[terms.Wish, terms.Rolled | str]:
    """What planning the part again beside these would come to, and the wish it is for. Stores nothing."""
    wish = _wish_of(part, around)
    return wish, _rolled(part, wish, around)


def _rolled(part: Part, wish: terms.Wish, around: Around) -> terms.Rolled | str:
    """The part rolled, or, when the planner finds no way at all, its words for that."""
    season = around.taken.season(but={part.pk})
    try:
        return roll(season, bridge.part_plan_of(part), wish, bridge.facts_of(part), part.pickup)
    except terms.Impossible as trouble:
        return str(trouble)


def _judged(part: Part, wish: terms.Wish, rolled: terms.Rolled | str, season: terms.Season) -> terms.Rolled | str:
    """What the referee lets pass; of what it does not, its words, so that the plan there was is kept.

    That is a mistake of ours, but living plants must never be kept from being recorded for it.
    """
    if isinstance(rolled, str):
        return rolled
    plan = terms.LinePlan(wish, part.pickup, (rolled.part,))
    recorded = {wish.key: bridge.facts_of(part)}
    found = check.faults(season, [plan], begun=frozenset(recorded), recorded=recorded)
    if not found:
        return rolled
    words = [fault_words(fault, season) for fault in found]
    log.error("The plan of part %s failed its check and was not stored: %s", part.pk, "; ".join(words))
    return _("The new plan failed its check, and the one before is kept; please report this. %(why)s") % {
        "why": words[0]
    }


def _wish_of(part: Part, around: Around) -> terms.Wish:
    """What a part is grown for, at the size of the part."""
    return wish_of_part(
        part,
        nursery=around.nursery,
        protocol=around.protocol(part.batch.protocol_id),
        calendar=around.taken.empty.calendar,
    )


# --- day by day -----------------------------------------------------------------------------------------------


def behind(today: date) -> list[int]:
    """Parts to be planned again today: with work that a day before should have seen, or with a border to cross."""
    unseen = Part.objects.filter(state__in=bridge.LIVING).exclude(rolled_on__gte=today).order_by("pk")
    undone = unseen.filter(works__state=Work.State.PLANNED, works__day__lt=today)
    late = set(undone.values_list("pk", flat=True))
    waiting = unseen.filter(stays__entered=False, stays__first__lte=today).exclude(pk__in=late).distinct()
    ready = waiting.select_related("batch").prefetch_related(*FOR_CROSSING)
    crossing = {part.pk for part in ready if any(stays.crossings_due(part, today))}
    return sorted(late | crossing)


def roll_over(today: date) -> int:
    """Let go what was held until yesterday, and plan yesterday's unrecorded work for today; how many parts moved.

    Safe to call at any time: a part is rolled over once a day, and on a quiet day this is three queries.
    """
    holding.lapse(today)
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
