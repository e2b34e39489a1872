"""Storing a part that was rolled on: what is recorded stays as it is, row by row, and the rest moves."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Model
from django.utils.translation import gettext as _

from orders import history

from .. import bridge
from ..models import Batch, Part, Sowing, Stay, Work
from ..planning import terms
from ..planning.calendar import next_open
from ..queries.works import SIDES
from ..words import day_words

Track = tuple[str, int, str]  # subject, number of the sowing, stage


@dataclass(frozen=True)
class _When:
    """From which day on what is left can be done: from today, or what was put off from a later one."""

    today: date
    not_before: date | None
    calendar: terms.Calendar

    def soonest(self, day: date, *, care: bool, put_off: bool = False) -> date:
        floor = self.not_before if put_off and self.not_before else self.today
        day = max(day, floor)
        return day if care else next_open(self.calendar, day)


def store_rolled(
    part: Part,
    rolled: terms.Rolled | str,
    *,
    calendar: terms.Calendar,
    today: date,
    not_before: date | None = None,
) -> None:
    """Write what the planner found for a locked part, or its words when it found no way.

    `not_before` is the day to which something was put off: that and what follows begins then at soonest.
    """
    if isinstance(rolled, str):
        _without_a_plan(part, rolled, today)
        return
    when = _When(today, not_before, calendar)
    before = (part.graft_day, part.ready_day, round(part.expected), part.late_by)
    _numbers(part, rolled, today)
    sowings = _sowings(part, rolled.part.sowings)
    passed = _passed(part, rolled.part.stays)
    _stays(part, [stay for stay in rolled.part.stays if _track(stay) not in passed], sowings, when)
    _works(part, rolled.part.works, sowings, passed, when)
    _say_what_changed(part, before)


def _without_a_plan(part: Part, trouble: str, today: date) -> None:
    """No way was found: what is overdue is still work of today, and the trouble is said."""
    part.troubles, part.rolled_on = [trouble], today
    part.save(update_fields=["troubles", "rolled_on"])
    part.works.filter(state=Work.State.PLANNED, day__lt=today).update(day=today)
    _fresh(part)


def _fresh(part: Part) -> None:
    Batch.objects.filter(pk=part.batch_id).update(stale=False)


def _numbers(part: Part, rolled: terms.Rolled, today: date) -> None:
    plan, outlook = rolled.part, rolled.outlook
    part.graft_day, part.ready_day, part.grafts = plan.graft_day, plan.ready, plan.sizing.grafts
    part.expected, part.expected_low, part.expected_high = outlook.expected, outlook.low, outlook.high
    part.chance, part.late_by = outlook.chance, rolled.late_by
    part.troubles = list(rolled.troubles)
    part.reasons = [[reason.what, reason.day.isoformat(), reason.why] for reason in plan.reasons]
    part.rolled_on = today
    part.save()
    _fresh(part)


def _sowings(part: Part, plans: Iterable[terms.SowingPlan]) -> dict[tuple[str, int], Sowing]:
    """Move what is not sown; of what is, only what is expected of it. Gives the sowings by subject and number."""
    rows = {(row.subject, row.number): row for row in part.sowings.all()}
    for plan in plans:
        row = rows.get((plan.subject, plan.number))
        if row is None:
            continue  # plants that stood already when the service was first used
        changes: dict[str, object] = {
            "emerges": plan.emerges,
            "graftable_from": plan.graftable_from,
            "graftable_to": plan.graftable_to,
        }
        if row.sown_on is None:
            changes |= {"day": plan.day, "seeds": plan.seeds, "trays": plan.trays}
        _change(row, changes)
    return rows


def _track(plan: terms.StayPlan | terms.WorkPlan) -> Track:
    return plan.subject, plan.sowing, plan.stage


def _track_stored(row: Stay | Work) -> Track:
    return row.subject, row.sowing.number if row.sowing else 1, row.stage


def _entered(part: Part) -> list[Stay]:
    return list(part.stays.filter(entered=True).select_related("sowing"))


def _passed(part: Part, plans: Sequence[terms.StayPlan]) -> set[Track]:
    """What the plants are past: before a stage that is recorded; all of both sides once grafted."""
    entered = {_track_stored(stay) for stay in _entered(part)}
    grafted = any(subject == "union" for subject, _sowing, _stage in entered)
    passed: set[Track] = set()
    for subject, sowing in {(plan.subject, plan.sowing) for plan in plans}:
        own = (plan for plan in plans if (plan.subject, plan.sowing) == (subject, sowing))
        stages = list(dict.fromkeys(plan.stage for plan in sorted(own, key=lambda plan: plan.first)))
        reached = max((n for n, stage in enumerate(stages) if (subject, sowing, stage) in entered), default=0)
        reached = len(stages) if grafted and subject in SIDES else reached
        passed |= {(subject, sowing, stage) for stage in stages[:reached]}
    return passed


# --- stays -----------------------------------------------------------------------------------------------------


def _stays(part: Part, plans: Sequence[terms.StayPlan], sowings: bridge.SowingRows, when: _When) -> None:
    """What is recorded keeps its day, place and trays; it ends when the next is to begin."""
    there = _entered(part)
    part.stays.filter(entered=False).delete()
    recorded = {_track_stored(stay) for stay in there}
    new = [_not_past(plan, when) for plan in plans if _track(plan) not in recorded and plan.nights]
    for stay in there:
        if not stay.left:
            _change(stay, {"nights": max(1, (_ends(stay, plans, new) - stay.first).days)})
    bridge.write_stays(part, new, sowings)


def _not_past(plan: terms.StayPlan, when: _When) -> terms.StayPlan:
    """What was to begin on a day past, and was not recorded, begins today at soonest."""
    first = max(plan.first, when.today)
    return replace(plan, first=first, nights=max(1, (plan.leaves - first).days))


def _ends(stay: Stay, plans: Iterable[terms.StayPlan], new: Iterable[terms.StayPlan]) -> date:
    """The day on which recorded plants move on: when they enter their next stage, else as the plan says."""
    subject, sowing, _stage = track = _track_stored(stay)
    following = [plan.first for plan in new if (plan.subject, plan.sowing) == (subject, sowing)]
    if stay.subject in SIDES and not following:
        following = [plan.first for plan in new if plan.subject == "union"]
    own = [plan.leaves for plan in plans if _track(plan) == track]
    return min(following, default=max(own, default=stay.leaves))


# --- works -----------------------------------------------------------------------------------------------------


def _works(
    part: Part,
    plans: Iterable[terms.WorkPlan],
    sowings: bridge.SowingRows,
    passed: set[Track],
    when: _When,
) -> None:
    """Move what is still to do, row by row, so that a page opened before still names the same work."""
    works = part.works.select_related("sowing")
    closed = {(work.kind, _track_stored(work)) for work in works.exclude(state=Work.State.PLANNED)}
    rows: dict[tuple[str, Track], list[Work]] = {}
    for row in works.filter(state=Work.State.PLANNED).order_by("day", "id"):
        rows.setdefault((row.kind, _track_stored(row)), []).append(row)
    new = []
    for plan in sorted(plans, key=lambda plan: plan.day):
        key = (plan.kind, _track(plan))
        if rows.get(key):
            _move(rows[key].pop(0), plan, when)
        elif key not in closed and _track(plan) not in passed:
            new.append(_from_today(plan, when))
    Work.objects.filter(pk__in=[row.pk for left in rows.values() for row in left]).delete()
    bridge.write_works(part, new, sowings)


def _from_today(plan: terms.WorkPlan, when: _When) -> terms.WorkPlan:
    return replace(plan, day=when.soonest(plan.day, care=plan.care))


def _move(row: Work, plan: terms.WorkPlan, when: _When) -> None:
    """Overdue work keeps the day it was due; work that only follows something else is due on its new day."""
    overdue = row.due < min(row.day, when.today) or row.day < when.today
    put_off = when.not_before is not None and row.day == when.not_before
    day = when.soonest(plan.day, care=plan.care, put_off=put_off)
    if when.not_before is not None and row.day <= when.today and not put_off:
        day = when.today  # only what was put off waits; the rest of today stays today's
    changes = {
        "day": day,
        "due": row.due if overdue or put_off else day,
        "part_of_day": plan.part,
        "plants": plan.plants,
        "hours": bridge.stored_hours(plan.hours),
        "care": plan.care,
        "note": plan.note,
    }
    _change(row, changes)


def _change(row: Model, values: Mapping[str, object]) -> None:
    """Save what is not so already; most of a plan stays as it was."""
    changed = [field for field, value in values.items() if getattr(row, field) != value]
    for field in changed:
        setattr(row, field, values[field])
    if changed:
        row.save(update_fields=changed)


# --- history ---------------------------------------------------------------------------------------------------


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
