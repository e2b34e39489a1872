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
from django.db.models import F, Q
from django.utils.translation import gettext as _

from orders import history
from orders.jobs import enqueue, handler
from orders.models import Nursery, OrderLine

from .. import bridge
from ..models import Batch, Part, Sowing, Stay, Work
from ..planning import terms
from ..planning.rolling import roll
from ..words import day_words
from . import stays
from .common import locked
from .promise import lock_the_plan

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
        with transaction.atomic():
            stays.cross_by_itself(locked(part), today)
        part = bridge.living_parts().get(pk=pk)
        rolled = _rolled(part, max(today, not_before or today))
        with transaction.atomic():
            lock_the_plan()  # a promise being given at this moment must see the one or the other
            now = locked(part)
            if now.revision == part.revision:
                _store(now, rolled, today, not_before)
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
        line, nursery=nursery, protocol=protocol, pickup=part.pickup, quantity=part.plants, key=f"part:{part.pk}"
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


# --- storing ------------------------------------------------------------------------------------------------


def _store(part: Part, rolled: terms.Rolled | str, today: date, not_before: date | None) -> None:
    if isinstance(rolled, str):
        _without_a_plan(part, rolled, today)
        return
    before = (part.graft_day, part.ready_day, round(part.expected), part.late_by)
    _store_numbers(part, rolled, today)
    sowings = _store_sowings(part, rolled.part.sowings)
    _store_stays(part, rolled.part.stays, sowings)
    _store_works(part, rolled.part.works, sowings, today, not_before)
    _say_what_changed(part, before)


def _without_a_plan(part: Part, trouble: str, today: date) -> None:
    """No way was found: what is overdue is still work of today, and the trouble is said."""
    part.troubles, part.rolled_on = [trouble], today
    part.save(update_fields=["troubles", "rolled_on"])
    part.works.filter(state=Work.State.PLANNED, day__lt=today).update(day=today)
    _fresh(part)


def _fresh(part: Part) -> None:
    Batch.objects.filter(pk=part.batch_id).update(stale=False)


def _store_numbers(part: Part, rolled: terms.Rolled, today: date) -> None:
    plan, outlook = rolled.part, rolled.outlook
    part.graft_day, part.ready_day, part.grafts = plan.graft_day, plan.ready, plan.sizing.grafts
    part.expected, part.expected_low, part.expected_high = outlook.expected, outlook.low, outlook.high
    part.chance, part.late_by = outlook.chance, rolled.late_by
    part.troubles = list(rolled.troubles)
    part.reasons = [[reason.what, reason.day.isoformat(), reason.why] for reason in plan.reasons]
    part.rolled_on = today
    part.save()
    _fresh(part)


def _store_sowings(part: Part, plans: Iterable[terms.SowingPlan]) -> dict[str, Sowing]:
    """Move what is not sown; of what is, only what is expected of it."""
    rows: dict[str, list[Sowing]] = {}
    for row in part.sowings.order_by("day", "id"):
        rows.setdefault(row.subject, []).append(row)
    first = {subject: found[0] for subject, found in rows.items()}
    for plan in sorted(plans, key=lambda plan: plan.day):
        row = rows[plan.subject].pop(0)
        row.emerges = plan.emerges
        row.graftable_from, row.graftable_to = plan.graftable_from, plan.graftable_to
        if row.sown_on is None:
            row.day, row.seeds, row.trays = plan.day, plan.seeds, plan.trays
        row.save()
    return first


def _store_stays(part: Part, plans: Iterable[terms.StayPlan], sowings: dict[str, Sowing]) -> None:
    """What is recorded keeps its day, place and trays; only when it ends is planned anew."""
    there = [stay for stay in part.stays.all() if stay.entered]
    part.stays.filter(entered=False).delete()
    plans = [plan for plan in plans if plan.nights]
    for stay in there:
        ends = [p.leaves for p in plans if (p.subject, p.stage) == (stay.subject, stay.stage)]
        if ends and not stay.left:
            stay.nights = max(1, (max(ends) - stay.first).days)
            stay.save(update_fields=["nights"])
    recorded = {(stay.subject, stay.stage) for stay in there}
    new = [plan for plan in plans if (plan.subject, plan.stage) not in recorded]
    bridge.write_stays(part, new, sowings)


def _store_works(
    part: Part, plans: Iterable[terms.WorkPlan], sowings: dict[str, Sowing], today: date, not_before: date | None
) -> None:
    """Move what is still to do, row by row, so that a page opened before still names the same work."""
    ended = [work for work in part.works.all() if work.state != Work.State.PLANNED]
    closed = {(work.kind, work.subject, work.stage, work.sowing_id) for work in ended}
    open_rows: dict[tuple[str, str, str], list[Work]] = {}
    for row in part.works.filter(state=Work.State.PLANNED).order_by("day", "id"):
        open_rows.setdefault((row.kind, row.subject, row.stage), []).append(row)
    new = []
    for plan in sorted(plans, key=lambda plan: plan.day):
        sowing = sowings.get(plan.subject)
        rows = open_rows.get((plan.kind, plan.subject, plan.stage), [])
        if rows:
            _move(rows.pop(0), plan, today, not_before)
        elif (plan.kind, plan.subject, plan.stage, sowing.pk if sowing else None) not in closed:
            new.append(plan)
    Work.objects.filter(pk__in=[row.pk for rows in open_rows.values() for row in rows]).delete()
    bridge.write_works(part, new, sowings)


def _move(row: Work, plan: terms.WorkPlan, today: date, not_before: date | None) -> None:
    """Overdue work keeps the day it was due; work that only follows something else is due on its new day."""
    overdue = row.due < min(row.day, today) or row.day < today
    put_off = not_before is not None and row.day == not_before
    day = plan.day
    if not_before is not None and row.day <= today and not put_off:
        day = min(plan.day, max(row.day, today))  # only what was put off waits; the rest of today stays today's
    if not (overdue or put_off):
        row.due = day
    row.day, row.part_of_day, row.plants = day, plan.part, plan.plants
    row.hours = [[skill, round(hours, 4)] for skill, hours in plan.hours]
    row.care, row.note = plan.care, plan.note
    row.save()


def _say_what_changed(part: Part, before: tuple[date | None, date, int, int]) -> None:
    now = (part.graft_day, part.ready_day, round(part.expected), part.late_by)
    if now == before:
        return
    words = [_("%(n)s plants expected") % {"n": now[2]}]
    if now[0] != before[0] and now[0]:
        words.append(_("graft %(day)s") % {"day": day_words(now[0])})
    if now[1] != before[1]:
        words.append(
            _("ready %(day)s, not %(before)s") % {"day": day_words(now[1]), "before": day_words(before[1])}
        )
    if now[3] != before[3] and now[3]:
        words.append(_("%(n)s days late") % {"n": now[3]})
    history.record(
        by=None, what="planned again", subject=part.batch, text="; ".join(words), part=part.number,
        graft_day=str(now[0] or ""), ready_day=str(now[1]), expected=now[2], late_by=now[3],
    )  # fmt: skip


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
    from orders.services import mark_growing

    begun = Stay.objects.filter(
        subject="room", entered=True, part__state=Part.State.PLANNED, first__lte=today
    ).values_list("part_id", flat=True)
    for part in Part.objects.filter(pk__in=list(begun)).prefetch_related("allocations__line"):
        with transaction.atomic():
            Part.objects.filter(pk=part.pk).update(state=Part.State.ALIVE)
            for allocation in part.allocations.all():
                mark_growing(line=allocation.line, by=None)
