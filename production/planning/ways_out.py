"""Ways out of a refusal, cheapest first: what could be asked, moved or added so that it fits.

Each is a plan that the referee lets pass where it is shown: no fault, and no conflict that it takes part in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import combinations
from typing import Literal

from . import check
from .claims import conflicts_of
from .hands import asks_of
from .joining import Joined, Unsown, ways_in
from .level import Board, Move, Told, level_exactly, moves_between
from .load import EASE, Load
from .options import Ways, pickups_of
from .promise import load_for
from .terms import Answer, Conflict, HandsClaim, Impossible, LinePlan, RoomClaim, Season, Wish
from .why_not import WhyNot, why_not

Kind = Literal["earlier", "later", "method", "fewer", "joining", "moving", "more"]
# Of two that cost the same the one that changes less comes first.
KINDS: tuple[Kind, ...] = ("earlier", "later", "joining", "moving", "method", "more", "fewer")

MOST_OTHERS = 8  # lines that are thought of as moving, those that ask most of what is short
MOST_IN_PAIRS = 5  # of them, those that are tried two at a time
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
    others: Sequence[Told] = (),
    instead: Sequence[Wish] = (),
    effort: float = EFFORT,
    why: WhyNot | None = None,
    unsown: Sequence[Unsown] = (),
) -> tuple[WayOut, ...]:
    """The ways out of a refused answer to one wish.

    `others` are the promised lines that may move inside their latitude; their claims are in the season, owned by
    the keys of their wishes. `instead` are wishes for the same plants by other methods. With an `effort` of zero
    others are moved only where one or two of them suffice, which takes a tenth of a second. `why` is what
    `why_not` says of the wish, where it was asked already. `unsown` are the batches that it might join.
    """
    if answer.fits or answer.plan is None:
        return ()
    load = load_for(season, [answer.wish, *instead])
    found = [
        *_other_days(answer),
        *_joining(load, answer, unsown),
        *_moving(season, answer, others, effort),
        *_other_methods(load, answer, instead),
        *_with_more(load, answer, why or why_not(load, answer.wish)),
        *_fewer(load, answer),
    ]
    holding = [way for way in found if _holds(season, way)]
    asked = answer.wish.pickup
    apart = {id(way): abs((way.pickup - asked).days) for way in holding}
    return tuple(sorted(holding, key=lambda way: (round(way.cost, 2), apart[id(way)], KINDS.index(way.kind))))


def by_moving(season: Season, answer: Answer, others: Sequence[Told], effort: float = EFFORT) -> WayOut | None:
    """Of the ways out only the one that moves others inside their latitude, if there is one."""
    found = _moving(season, answer, others, effort) if answer.plan and not answer.fits else ()
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


def _joining(load: Load, answer: Answer, unsown: Sequence[Unsown]) -> Iterator[WayOut]:
    """The batch that it joins for the least, the nearest to the pickup asked of those that cost the same."""
    asked = answer.wish.pickup
    ways = ways_in(load, unsown, answer.wish)
    best = min(ways, key=lambda way: (round(way.cost, 2), abs((way.pickup - asked).days)), default=None)
    if best:
        wish = replace(answer.wish, pickup=best.pickup, earlier=0, later=0)
        cost = best.cost - answer.plan.cost if answer.plan else best.cost
        yield WayOut("joining", wish, best.plan, cost, joins=best)


# --- others moved inside their latitude ------------------------------------------------------------------------


def _moving(season: Season, answer: Answer, others: Sequence[Told], effort: float) -> Iterator[WayOut]:
    """Would it fit if others moved? Asked of the lines that take most of what is short."""
    told = {line.wish.key: line for line in others if line.plan}
    near = [told[owner] for owner in asking_most(answer) if owner in told][:MOST_OTHERS]
    if not near:
        return
    keys = frozenset(line.wish.key for line in near)
    board = Board(season.without(keys), [Told(answer.wish), *(replace(line, may_be_late=0) for line in near)])
    if not (_a_few_moved(board) or _all_moved(board, effort)):
        return
    plans = {line.wish.key: plan for line, plan in zip(board.lines, board.plans, strict=True) if plan}
    moves = moves_between(board.season, board.lines[1:], plans)
    plan = plans[answer.wish.key]
    was = {line.wish.key: line.plan.cost for line in near if line.plan}
    cost = _cost(answer, plan) + sum(move.plan.cost - was[move.key] for move in moves)
    yield WayOut("moving", answer.wish, plan, cost, moves)


def asking_most(answer: Answer) -> list[str]:
    """Who asks for what is short, the one who takes most of it first; only the first `MOST_OTHERS` are moved."""
    asking = {cause.owner: cause.amount for conflict in answer.conflicts for cause in conflict.causes}
    return sorted(asking, key=lambda owner: (-asking[owner], owner))


def _a_few_moved(board: Board) -> bool:
    """One other line, or two, out of the way and in again after the new one: mostly that is enough."""
    others = range(1, len(board.lines))
    for number in others:
        board.put(number, board.lines[number].plan)
    for off in [*combinations(others, 1), *combinations(others[:MOST_IN_PAIRS], 2)]:
        for number in off:
            board.put(number, None)
        if all(board.place(number) for number in (0, *off)):
            return True
        board.put(0, None)
        for number in off:
            board.put(number, board.lines[number].plan)
    return False


def _all_moved(board: Board, effort: float) -> bool:
    """Decided exactly, as far as the effort goes."""
    if not effort:
        return False
    for number in range(len(board.lines)):
        board.put(number, None)
    found = level_exactly(board, range(len(board.lines)), effort, all_placed=True)
    for number, plan in enumerate(found.plans if found else ()):
        board.put(number, plan)
    return found is not None


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


def _holds(season: Season, way: WayOut) -> bool:
    """The referee's word on what would be promised, beside all that would then be so."""
    moved = frozenset(move.key for move in way.moves)
    if way.joins:
        season = way.joins.unsown.given_back(season)
    then = season.without(moved)
    for extra in way.extra:
        then = replace(then, room=(*then.room, *_added_room(extra)), hands=(*then.hands, *_added_hours(extra)))
    plans = [way.plan.as_if_asked, *(m.plan for m in way.moves)]
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
