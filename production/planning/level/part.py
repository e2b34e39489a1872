"""One part of a line, from one start to one pickup: where each stand goes and which work it asks for."""

from __future__ import annotations

from collections.abc import Iterator

from production.planning.backward import Dates
from production.planning.ledger import Spots
from production.planning.level.chains import Chains
from production.planning.level.draft import DraftPart
from production.planning.level.free import Free
from production.planning.level.needs import LegNeeds, Work
from production.planning.level.sides import Sides, near_first

Part = tuple[DraftPart, Spots]


def part_from(free: Free, chains: Chains, at: int, start: int, sides: Sides) -> Part | None:
    """The part that begins with these sowings, for the so-manieth pickup; none if its work finds no hands.

    Room was found when the stages were counted back; here it is chosen. What is free is left as it is.
    """
    needs, (pickup, last) = chains.needs, chains.pickups[at]
    borders = chains.borders(at, start)
    turns = [turn for turn in _turns(chains, borders, last) if turn[1] < turn[2]]
    work = [*sides.work, *_work(chains, borders, pickup)]
    if not free.finds_hands(work):
        return None
    stays, chosen = [*sides.stays], dict(sides.chosen)
    near = sides.last if needs.course.wish.kind == "plain" else ()  # a graft comes from nowhere: it is made
    for leg, first, leaves in turns:
        spread = free.spread(leg, near_first(leg.rows, near), first, leaves)
        if spread is None:
            return None
        stays += leg.stays(spread, first, leaves)
        chosen[leg.key] = near = spread
    cold = sum(start - each.raised for each in sides.sown)
    dates = Dates(tuple(sides.sown), borders, pickup, last, chains.departure(at, start) + cold)
    return DraftPart(needs.plants, dates, chosen), Spots(tuple(stays), tuple(work))


def _turns(chains: Chains, borders: tuple[int, ...], last: int) -> Iterator[tuple[LegNeeds, int, int]]:
    needs = chains.needs
    yield from zip(needs.legs, borders, borders[1:], strict=False)
    if needs.waiting:
        yield needs.waiting, borders[-1], last


def _work(chains: Chains, borders: tuple[int, ...], pickup: int) -> Iterator[Work]:
    for leg, first, leaves in zip(chains.needs.legs, borders, borders[1:], strict=False):
        if first < leaves:
            yield from leg.works(first, leaves)
    for hours in chains.needs.handing_over:
        yield from ((index, pickup, each) for index, each in hours)
