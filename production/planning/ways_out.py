"""Ways out of a refusal, cheapest first: what could be asked, moved or added so that it fits.

Each is a plan that the referee lets pass where it is shown: no fault, and no conflict that it takes part in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from . import check
from .claims import conflicts_of
from .hands import asks_of
from .joining import Joined, Unsown, ways_in
from .level import Move, moves_between
from .load import EASE, Load
from .making_room import NOBODY, Others, room_made
from .options import Ways, pickups_of
from .promise import load_for
from .terms import Answer, Conflict, HandsClaim, Impossible, LinePlan, RoomClaim, Season, Wish
from .why_not import WhyNot, why_not

Kind = Literal["earlier", "later", "method", "fewer", "joining", "moving", "more"]
# Of two that cost the same the one that changes less comes first.
KINDS: tuple[Kind, ...] = ("earlier", "later", "joining", "moving", "method", "more", "fewer")

EFFORT = 0.6  # CP-SAT's measure for moving others
EXTRA = "extra"  # owner of what would be added


@dataclass(frozen=True, slots=True)
class Extra:
    """So much more of a place on each of these nights, or of hours on these days, and what that costs."""

    conflict: Conflict
    amount: float
    cost: float


@dataclass(frozen=True, slots=True)
class WayOut:
    """One way: `wish` would be asked, `plan` promised, at a `cost` in money beyond the plan as asked.

    `moves` are the other lines that would move inside their latitude, `extra` what would have to be added. With
    `joins` the line goes into that batch, and `plan` is the one for all on it.
    """

    kind: Kind
    wish: Wish
    plan: LinePlan
    cost: float
    moves: tuple[Move, ...] = ()
    extra: tuple[Extra, ...] = field(default=())
    joins: Joined | None = None

    @property
    def pickup(self) -> date:
        """The day on which this line would be picked up."""
        return self.joins.pickup if self.joins else self.plan.pickup


def ways_out(
    season: Season,
    answer: Answer,
    others: Others = NOBODY,
    instead: Sequence[Wish] = (),
    effort: float = EFFORT,
    why: WhyNot | None = None,
    unsown: Sequence[Unsown] = (),
    before: Sequence[Joined] = (),
) -> tuple[WayOut, ...]:
    """The ways out of a refused answer to one wish.

    `others` are the promised lines that may move inside their latitude. `instead` are wishes for the same plants
    by other methods. With an `effort` of zero others are moved only where one or two of them suffice. `why` is
    what `why_not` says of the wish, where it was asked already. `unsown` are the batches that it might join,
    `before` those that other lines of the same order would, by the same word.
    """
    if answer.fits or answer.plan is None:
        return ()
    load = load_for(season, [answer.wish, *instead])
    found = [
        *_other_days(answer),
        *_joining(load, answer, unsown, before),
        *_moving(season, load, answer, others, effort),
        *_other_methods(load, answer, instead),
        *_with_more(load, answer, why or why_not(load, answer.wish)),
        *_fewer(load, answer),
    ]
    holding = [way for way in found if _holds(season, way, before if way.joins else ())]
    asked = answer.wish.pickup
    apart = {id(way): abs((way.pickup - asked).days) for way in holding}
    return tuple(sorted(holding, key=lambda way: (round(way.cost, 2), apart[id(way)], KINDS.index(way.kind))))


def by_moving(season: Season, answer: Answer, others: Others, effort: float = EFFORT) -> WayOut | None:
    """Of the ways out only the one that moves others inside their latitude, if there is one."""
    refused = answer.plan and not answer.fits
    found = _moving(season, load_for(season, [answer.wish]), answer, others, effort) if refused else ()
    return next((way for way in found if _holds(season, way)), None)


def _cost(answer: Answer, plan: LinePlan) -> float:
    """Work and room beyond those of the plan as asked."""
    return plan.cost - answer.plan.cost if answer.plan else plan.cost


def by_joining(season: Season, answer: Answer, unsown: Unsown) -> WayOut | None:
    """Of the ways out only the one that joins this batch, if there is one."""
    if answer.plan is None:
        return None
    found = _joining(load_for(season, [answer.wish, unsown.wish]), answer, [unsown])
    return next((way for way in found if _holds(season, way)), None)


# --- another day, another method, fewer ----------------------------------------------------------------------


def _other_days(answer: Answer) -> Iterator[WayOut]:
    days: tuple[tuple[Kind, LinePlan | None], ...] = (("earlier", answer.earlier), ("later", answer.later))
    for kind, plan in days:
        if plan:
            asked = replace(answer.wish, pickup=plan.pickup, earlier=0, later=0)
            yield WayOut(kind, asked, plan, _cost(answer, plan))


def _other_methods(load: Load, answer: Answer, instead: Iterable[Wish]) -> Iterator[WayOut]:
    for wish in instead:
        plan = _first(load, wish)
        if plan:
            yield WayOut("method", wish, plan, _cost(answer, plan))


def _first(load: Load, wish: Wish) -> LinePlan | None:
    try:
        return Ways(load, wish).first(pickups_of(load.season, wish))
    except Impossible:
        return None


def _fewer(load: Load, answer: Answer) -> Iterator[WayOut]:
    """As many as fit; per plant they cost what they cost, so nothing is added for them."""
    wish, plans = answer.wish, dict[int, LinePlan | None]()
    if wish.kind == "room":
        return

    def fits(quantity: int) -> bool:
        plans[quantity] = _first(load, replace(wish, quantity=quantity))
        return plans[quantity] is not None

    low, high = 0, wish.quantity
    while high - low > max(1, wish.quantity // 50):
        middle = (low + high) // 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    plan = plans.get(low)
    if plan:
        yield WayOut("fewer", plan.wish, plan, 0.0)


# --- into a batch that is not sown yet ---------------------------------------------------------------------------


def _joining(
    load: Load, answer: Answer, unsown: Sequence[Unsown], before: Sequence[Joined] = ()
) -> Iterator[WayOut]:
    """The batch that it joins for the least, the nearest to the pickup asked of those that cost the same."""
    asked, there = answer.wish.pickup, load.copy()
    for each in before:
        there.add(*each.unsown.claims(), sign=-1)
        there.add(*each.then.claims())
    known = {each.unsown.owner: each.then for each in before}
    ways = ways_in(there, [known.get(each.owner, each) for each in unsown], answer.wish)
    best = min(ways, key=lambda way: (round(way.cost, 2), abs((way.pickup - asked).days)), default=None)
    if best:
        wish = replace(answer.wish, pickup=best.pickup, earlier=0, later=0)
        cost = best.cost - answer.plan.cost if answer.plan else best.cost
        yield WayOut("joining", wish, best.plan, cost, joins=best)


# --- others moved inside their latitude ------------------------------------------------------------------------


def _moving(season: Season, load: Load, answer: Answer, others: Others, effort: float) -> Iterator[WayOut]:
    made = room_made(season, load, answer, others, effort)
    if made:
        stood = [line.plan for line in made.lines if line.plan]
        there = check.near(season, [made.plan, *stood, *made.plans.values()]).without(frozenset(made.plans))
        moves = moves_between(there, made.lines, made.plans)
        was = {line.wish.key: line.plan.cost for line in made.lines if line.plan}
        cost = _cost(answer, made.plan) + sum(move.plan.cost - was[move.key] for move in moves)
        yield WayOut("moving", answer.wish, made.plan, cost, moves)


# --- more room, more hours -------------------------------------------------------------------------------------


def _with_more(load: Load, answer: Answer, why: WhyNot) -> Iterator[WayOut]:
    """The least more of places and hands with which it fits, at their prices."""
    plan = why.plan
    if plan:
        extra = tuple(_extra(load, conflict, plan) for conflict in conflicts_of(load, plan))
        yield WayOut(
            "more", answer.wish, plan, _cost(answer, plan) + sum(each.cost for each in extra), extra=extra
        )


def _extra(load: Load, conflict: Conflict, plan: LinePlan) -> Extra:
    amount = conflict.peak - conflict.there
    prices, days = load.season.prices, (conflict.last - conflict.first).days + 1
    if conflict.resource == "hands":
        return Extra(conflict, amount, amount * days * prices.hour)
    metres = amount if conflict.unit == "m²" else amount * _metres_a_position(load, conflict.key, plan)
    return Extra(conflict, amount, metres * days / 7 * prices.metre_week)


def _metres_a_position(load: Load, place: str, plan: LinePlan) -> float:
    """The largest container of the plan that stands there says what a position of that place is."""
    stages = plan.wish.recipe
    known = {plan.wish.container} if plan.wish.container else set()
    if stages:
        every = (*stages.rootstock, *stages.scion, *stages.union, *stages.plain)
        known |= {stage.container for stage in every if stage.container}
    if plan.wish.room:
        known.add(plan.wish.room.container)
    there = {stay.container for stay in plan.stays if stay.place == place}
    areas = [each.area / each.positions for each in known if each.key in there and each.positions > EASE]
    return max(areas, default=0.0)


# --- the referee -----------------------------------------------------------------------------------------------


def _holds(season: Season, way: WayOut, before: Sequence[Joined] = ()) -> bool:
    """The referee's word on what would be promised, beside all that would then be so."""
    plans = [way.plan.as_if_asked, *(move.plan for move in way.moves)]
    then = check.near(season, [*plans, *(each.plan for each in before)])
    for each in before:
        then = each.taken(then)
    if way.joins:
        then = way.joins.unsown.given_back(then)
    then = then.without(frozenset(move.key for move in way.moves))
    for extra in way.extra:
        then = replace(then, room=(*then.room, *_added_room(extra)), hands=(*then.hands, *_added_hours(extra)))
    if check.faults(then, plans):
        return False
    mine = frozenset(plan.wish.key for plan in plans)
    return not any(cause.owner in mine for found in check.conflicts(then, plans, mine) for cause in found.causes)


def _added_room(extra: Extra) -> Iterator[RoomClaim]:
    """Room that is added is a claim for less than nothing."""
    conflict = extra.conflict
    if conflict.resource == "place":
        nights = (conflict.last - conflict.first).days + 1
        yield RoomClaim(EXTRA, EXTRA, conflict.key, conflict.first, nights, -extra.amount)


def _added_hours(extra: Extra) -> Iterator[HandsClaim]:
    conflict = extra.conflict
    if conflict.resource == "hands":
        skill, part = min(asks_of(conflict.key))
        for number in range((conflict.last - conflict.first).days + 1):
            day = conflict.first.fromordinal(conflict.first.toordinal() + number)
            yield HandsClaim(EXTRA, EXTRA, day, ((skill, -extra.amount),), True, part)
