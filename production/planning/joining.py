"""Joining: a line let into a batch of which nothing is sown, which is planned anew with the plants of all on it.

What is sown together needs less to spare, and fills its trays better, than the sum of what each line needs alone.
Every line keeps the pickup it was promised: the plants are ready by the first of them and stand until the last.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from .claims import place_claims
from .load import Load
from .options import Ways, pickups_of
from .terms import Calendar, HandsClaim, Impossible, LinePlan, Material, RoomClaim, Season, Wish

FURTHEST = 366  # days over which the open days of a collection are counted


@dataclass(frozen=True, slots=True)
class Unsown:
    """A part of a batch of which nothing is sown: what the lines on it ask for together, and the plan of it.

    Its claims stand in the season under `owner`. `plan` has that one part, and its cost. `revision` is what the
    nursery numbers its changes with.
    """

    name: str  # 'B12'
    owner: str
    wish: Wish
    plan: LinePlan
    revision: int = 0

    def given_back(self, season: Season) -> Season:
        """The season as if this part took nothing: what is given back is a claim for less than nothing."""
        room, hands = place_claims(self.plan, self.owner)
        return replace(
            season,
            room=(*season.room, *(replace(claim, load=-claim.load) for claim in room)),
            hands=(*season.hands, *map(_less, hands)),
        )

    def claims(self) -> tuple[tuple[RoomClaim, ...], tuple[HandsClaim, ...]]:
        return place_claims(self.plan, self.owner)


@dataclass(frozen=True, slots=True)
class Joined:
    """What a part becomes when a line joins it: `plan` is for all on it, `pickup` the day of that line."""

    unsown: Unsown
    pickup: date
    plan: LinePlan

    @property
    def name(self) -> str:
        return self.unsown.name

    @property
    def revision(self) -> int:
        return self.unsown.revision

    @property
    def graft_day(self) -> date | None:
        return self.plan.parts[0].graft_day

    @property
    def cost(self) -> float:
        """Work and room beyond what the part takes without the line."""
        return self.plan.cost - self.unsown.plan.cost

    @property
    def then(self) -> Unsown:
        """The part with the line on it, for another to join."""
        return replace(self.unsown, wish=self.plan.wish, plan=self.plan)

    def taken(self, season: Season) -> Season:
        """The season once the part takes what it takes then."""
        before, (room, hands) = self.unsown.given_back(season), self.then.claims()
        return replace(before, room=(*before.room, *room), hands=(*before.hands, *hands))


def _less(claim: HandsClaim) -> HandsClaim:
    return replace(claim, hours=tuple((skill, -hours) for skill, hours in claim.hours))


# --- what several lines ask for together ---------------------------------------------------------------------


def collection_over(calendar: Calendar, windows: Iterable[tuple[date, int]]) -> tuple[date, int]:
    """The first of these (pickup, open days to collect), and the open days up to the last day of any of them."""
    known = [(pickup, last_day(calendar, pickup, days)) for pickup, days in windows]
    first, last = min(pickup for pickup, _ in known), max(last for _, last in known)
    between = (first + timedelta(days=n) for n in range(1, (last - first).days + 1))
    return first, 1 + sum(calendar.is_open(day) for day in between)


def last_day(calendar: Calendar, pickup: date, days: int) -> date:
    """The last of so many open days, the pickup being the first."""
    day, left = pickup, days - 1
    for _ in range(FURTHEST):
        if left <= 0:
            break
        day += timedelta(days=1)
        left -= calendar.is_open(day)
    return day


def may_join(wish: Wish, other: Wish) -> bool:
    """Whether plants of one are plants of the other: combination, protocol version, container, topped or not.

    Two leaders from a side shoot are the customer's work, and such plants no others for the nursery.
    """
    return (
        wish.kind == other.kind != "room"
        and wish.recipe == other.recipe
        and _same(wish.rootstock, other.rootstock)
        and _same(wish.scion, other.scion)
        and _is_topped(wish) == _is_topped(other)
        and wish.container == other.container
    )


def _is_topped(wish: Wish) -> bool:
    return wish.topped and wish.leaders == 2


def _same(one: Material | None, other: Material | None) -> bool:
    """The same seed, whenever it comes."""
    if one is None or other is None:
        return one is other
    return replace(one, seed_on_hand=None) == replace(other, seed_on_hand=None)


def together(calendar: Calendar, there: Wish, wish: Wish, pickup: date) -> Wish:
    """What the lines of a part and one more, picked up on that day, ask for as one."""
    windows = ((there.pickup, there.collection), (pickup, wish.collection))
    first, collection = collection_over(calendar, windows)
    return replace(
        there,
        quantity=there.quantity + wish.quantity,
        pickup=first,
        earlier=0,
        later=0,
        collection=collection,
        level=max(there.level, wish.level),
        rootstock=_later(there.rootstock, wish.rootstock),
        scion=_later(there.scion, wish.scion),
    )


def _later(one: Material | None, other: Material | None) -> Material | None:
    """Seed that is there once that of both is."""
    if one is None or other is None:
        return one
    days = [day for day in (one.seed_on_hand, other.seed_on_hand) if day]
    return replace(one, seed_on_hand=max(days, default=None))


# --- joining ---------------------------------------------------------------------------------------------------


def joined(load: Load, unsown: Unsown, wish: Wish) -> Joined | None:
    """The part with the line on it, its pickup the nearest to the one asked for that fits; None where none does.

    `load` holds what the part takes now; it is left as it is.
    """
    if not may_join(unsown.wish, wish):
        return None
    calendar, free = load.season.calendar, load.copy()
    free.add(*unsown.claims(), sign=-1)
    for pickup in pickups_of(load.season, wish):
        plan = _planned(free, together(calendar, unsown.wish, wish, pickup))
        if plan:
            return Joined(unsown, pickup, plan)
    return None


def _planned(free: Load, wish: Wish) -> LinePlan | None:
    """In one part, as it was: plants that were grafted on another day would share nothing with it."""
    try:
        return Ways(free, wish, parts=1).first([wish.pickup])
    except Impossible:
        return None


def ways_in(load: Load, among: Sequence[Unsown], wish: Wish) -> Iterable[Joined]:
    """Each part of these that the line could join."""
    found = (joined(load, unsown, wish) for unsown in among)
    return (each for each in found if each)
