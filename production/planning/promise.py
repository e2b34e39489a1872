"""The promise: does a wish fit beside all that is taken, and if not, when would it.

A yes carries the plan closest to what was asked. A no carries the plan as asked, the conflicts it would make or
worsen, and the nearest pickups before and after that fit. A plan is first looked for, which takes milliseconds;
where none is found, it is decided exactly whether there is one. Nothing here touches the season it is given.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta

from . import check
from .asked import closed_pickup, keeps_too_short, no_dates, refuted, too_soon
from .backward import last_collection_day
from .claims import asks_of, conflicts_of, place_claims
from .exact.proof import Said, place, place_together
from .load import Load
from .options import Ways, pickups_of
from .terms import Answer, Impossible, LinePlan, Season, Wish

SEARCH_DAYS = 60  # days before and after the latitude in which the nearest pickup is looked for
NEAREST_EFFORT = 0.3  # CP-SAT's measure; a day that is offered fits in any case, the effort only finds nearer ones
EARLIEST_WITHIN = 400  # days in which a first possible pickup is looked for

_kept: deque[Load] = deque(maxlen=2)  # loads of the seasons asked about last, which nobody changes


def promise(season: Season, wishes: Sequence[Wish], *, closely: bool = True) -> tuple[Answer, ...]:
    """The answers to these wishes, in their order, judged together.

    What fits takes its room before the next one is judged. Where one then finds none, all are tried at once, each
    wherever it leaves room for the others; only if that cannot be done do the answers say no.

    Not `closely` is what can be said while somebody types: a yes is a yes, a no only that no room was found at
    first sight, without the nearest days.
    """
    load = load_for(season, wishes)
    trial, answers = load.copy(), list[Answer]()
    for wish in wishes:
        answer = judge(trial, wish, closely=closely)
        if answer.fits and answer.plan:
            trial.take(*place_claims(answer.plan, wish.key))
        answers.append(answer)
    return (closely and _all_together(load, answers)) or tuple(answers)


def _all_together(load: Load, answers: Sequence[Answer]) -> tuple[Answer, ...]:
    """A yes to all at once, where one after the other did not do; else nothing."""
    refused = [answer for answer in answers if not answer.fits]
    if len(answers) < 2 or not refused or any(answer.impossible for answer in refused):
        return ()
    joint = place_together(load, [(each.wish, pickups_of(load.season, each.wish)) for each in answers])
    found = zip(answers, joint.plans, strict=False)
    together = tuple(Answer(answer.wish, fits=True, plan=plan) for answer, plan in found)
    return () if check.faults(load.season, joint.plans) else together


def load_for(season: Season, wishes: Iterable[Wish]) -> Load:
    """The load of a season, far enough ahead and with all that these wishes ask of hands; it is the caller's own.

    The load of the season that was asked about last is kept: counting up what ten thousand batches take is most of
    what a question about it costs.
    """
    wishes = list(wishes)
    last = max((wish.pickup + timedelta(days=wish.later) for wish in wishes), default=season.today)
    furthest = min(max(last, season.today), season.today + timedelta(days=731)) + timedelta(days=SEARCH_DAYS + 400)
    asks = {ask for wish in wishes for ask in asks_of(wish)}
    kept = next((load for load in _kept if load.season is season and load.covers(furthest, asks)), None)
    if kept is None:
        kept = Load(season, furthest, asks)
        _kept.append(kept)
    return kept.copy()


def plan_as_asked(season: Season, wish: Wish, parts: int | None = None) -> LinePlan:
    """The plan closest to what was asked, whatever it collides with; in so many parts, where that is wanted.

    `Impossible` when no dates lead to the pickup or its latitude.
    """
    load = load_for(season, [wish])
    asked = Ways(load, wish, dates_on=load.without_limits(), parts=parts)
    plan = asked.first(asked.pickups())
    if plan is None:
        raise _why_impossible(load, wish, asked)
    return plan


# --- one wish ---------------------------------------------------------------------------------------------


def judge(load: Load, wish: Wish, *, closely: bool = True) -> Answer:
    """The answer to one wish beside everything the load carries, in plans that the referee lets pass."""
    answer = _found(load, wish, closely)
    shown = [plan for plan in (answer.plan, answer.earlier, answer.later) if plan]
    faults = check.faults(load.season, [plan.as_if_asked for plan in shown])
    return Answer(wish, fits=False, impossible=refuted(faults[0].words)) if faults else answer


def _found(load: Load, wish: Wish, closely: bool) -> Answer:
    try:
        ways = Ways(load, wish)
    except Impossible as senseless:
        return Answer(wish, fits=False, impossible=senseless)
    plan = ways.first(ways.pickups())
    if plan:
        return Answer(wish, fits=True, plan=plan)
    if not closely:
        return replace(_refused(load, wish), proved=False)
    overlooked = place(ways, ways.pickups())
    if overlooked.plans:
        return Answer(wish, fits=True, plan=overlooked.plans[0])
    return replace(_refused(load, wish, ways), proved=overlooked.said is Said.CANNOT)


def _refused(load: Load, wish: Wish, ways: Ways | None = None) -> Answer:
    """A no, with the nearest days where `ways` are given to look for them."""
    asked = Ways(load, wish, dates_on=load.without_limits())
    plan = asked.first(asked.pickups())
    impossible = None if plan else _why_impossible(load, wish, asked)
    earliest = impossible.earliest if impossible else None
    earlier, later = _nearest(load, wish, ways, earliest) if ways else (None, None)
    conflicts = conflicts_of(load, plan) if plan else ()
    return Answer(wish, False, plan, conflicts, earlier, later, impossible)


def _nearest(
    load: Load, wish: Wish, ways: Ways, possible_from: date | None = None
) -> tuple[LinePlan | None, LinePlan | None]:
    """The nearest pickups outside the latitude that fit, before and after."""
    first = wish.pickup - timedelta(days=max(wish.earlier, 0))
    last = wish.pickup + timedelta(days=max(wish.later, 0))
    start = max(last + timedelta(days=1), possible_from or last)
    before = (first - timedelta(days=by) for by in range(1, SEARCH_DAYS + 1))
    after = (start + timedelta(days=by) for by in range(SEARCH_DAYS))
    return _first_of(ways, _open(load, before)), _first_of(ways, _open(load, after))


def _first_of(ways: Ways, pickups: Sequence[date]) -> LinePlan | None:
    """The plan for the first of these days that has one, none overlooked."""
    plan = ways.first(pickups)
    nearer = pickups[: pickups.index(plan.pickup)] if plan else pickups
    overlooked = place(ways, nearer, NEAREST_EFFORT)
    return overlooked.plans[0] if overlooked.plans else plan


def _open(load: Load, days: Iterable[date]) -> list[date]:
    return [day for day in days if day >= load.first and load.season.calendar.is_open(day)]


def earliest_pickup(asked: Ways) -> date | None:
    """The first pickup that biology and the calendar allow, whatever room and hands there are."""
    load = asked.load
    days = load.days[: EARLIEST_WITHIN + 1]
    return next((day for day in days if load.season.calendar.is_open(day) and asked.has_dates(day)), None)


def _why_impossible(load: Load, wish: Wish, asked: Ways) -> Impossible:
    season = load.season
    if not asked.pickups():
        return closed_pickup(wish, _days_around(load, wish), season.today)
    course = asked.allowed(wish.quantity).course
    held = min(last_collection_day(load, wish, load.index(day)) - load.index(day) for day in asked.pickups())
    if course.waiting and held > course.keeping:
        return keeps_too_short(held, course.keeping)
    earliest = earliest_pickup(asked)
    if earliest and earliest < min(asked.pickups()):
        return no_dates(wish, _days_around(load, wish, asked.has_dates), season.today)
    trouble = asked.allowed(wish.quantity).trouble
    if earliest is None and trouble:
        return trouble
    seeds = [side.material.seed_on_hand for side in course.sides if side.material.seed_on_hand]
    late = max((day for day in seeds if day > season.today), default=None)
    return too_soon(wish, earliest, late, season.today)


def _days_around(load: Load, wish: Wish, serves: Callable[[date], bool] = lambda _day: True) -> list[date]:
    """The open days next to the one asked, before and after, within two weeks; of those that serve."""
    both = (range(-1, -15, -1), range(1, 15))
    days = (_open(load, (wish.pickup + timedelta(days=by) for by in ahead)) for ahead in both)
    return [day for found in days for day in [next(filter(serves, found), None)] if day]
