"""What a plan takes of places and hands, and where that is more than there is."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from .conflicts import conflicts
from .hands import Ask
from .load import Load
from .terms import Conflict, HandsClaim, LinePlan, RoomClaim, Season, Wish

Claims = tuple[tuple[RoomClaim, ...], tuple[HandsClaim, ...]]


def place_claims(plan: LinePlan, owner: str) -> Claims:
    """What a plan takes of places and hands, as claims of its owner."""
    label = plan.wish.label
    room = tuple(
        RoomClaim(owner, label, stay.place, stay.first, stay.nights, stay.load)
        for stay in plan.stays
        if stay.nights
    )
    hands = tuple(
        HandsClaim(owner, label, work.day, work.hours, work.care, work.part)
        for work in plan.works
        if work.total_hours
    )
    return room, hands


def season_with(season: Season, plans: Iterable[LinePlan]) -> Season:
    """The season once these plans have taken what they take, each owned by the key of its wish."""
    claims = [place_claims(plan, plan.wish.key) for plan in plans]
    if not claims:
        return season  # the same one, of which much may be known already
    room = (claim for some, _hands in claims for claim in some)
    hands = (claim for _room, some in claims for claim in some)
    return replace(season, room=(*season.room, *room), hands=(*season.hands, *hands))


def asks_of(wish: Wish) -> Iterable[Ask]:
    """What a wish may ask of hands, with repetitions."""
    recipe = wish.recipe
    stages = (*recipe.rootstock, *recipe.scion, *recipe.union, *recipe.plain) if recipe else ()
    return ((skill, rule.part) for stage in stages for rule in stage.works for skill, _ in rule.hands)


def conflicts_of(load: Load, plan: LinePlan) -> tuple[Conflict, ...]:
    """The conflicts to which the plan would contribute on this load."""
    owner = f"\0{plan.wish.key}"
    trial, mine, claims = load.copy(), load.without_limits(), place_claims(plan, owner)
    trial.take(*claims)
    mine.add(*claims)
    return tuple(
        replace(
            each, causes=tuple(replace(c, owner=plan.wish.key) if c.owner == owner else c for c in each.causes)
        )
        for each in conflicts(trial, mine)
    )
