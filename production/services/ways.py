"""Ways out of a refusal, from what is promised in this nursery. Stores nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

from orders import states
from orders.models import Nursery, OrderLine

from .. import bridge
from ..models import Allocation, Part, Protocol
from ..planning import terms
from ..planning.joining import Joined
from ..planning.level import Told
from ..planning.making_room import MOST_OTHERS
from ..planning.options import cost_of
from ..planning.promise import load_for
from ..planning.ways_out import EFFORT, WayOut, by_moving, ways_out
from ..planning.why_not import WhyNot, why_not
from .joining import unsown_near

LOOKED_AT = 16  # lines of which it is seen at once whether they may move
AT_ONCE = 0.0  # others are moved only where one or two suffice: somebody is on the telephone


@dataclass(frozen=True, slots=True)
class Out:
    """Why a line does not fit, and what could be done about it."""

    why: WhyNot = field(default_factory=lambda: WhyNot(()))
    ways: tuple[WayOut, ...] = ()


def out_of(
    line: OrderLine, answer: terms.Answer, *, season: terms.Season, nursery: Nursery, before: Sequence[Joined] = ()
) -> Out:
    """What can be said beyond a no; nothing where it fits or is impossible.

    `before` are the batches that other lines of the same order would join.
    """
    if answer.fits or answer.impossible or answer.plan is None:
        return Out()
    instead = list(_by_other_methods(line, answer.wish))
    why = why_not(load_for(season, [answer.wish, *instead]), answer.wish)
    unsown = unsown_near(line, answer.wish, season=season, nursery=nursery)
    return Out(why, ways_out(season, answer, Promised(season, nursery), instead, AT_ONCE, why, unsown, before))


def moving(
    answer: terms.Answer, *, season: terms.Season, nursery: Nursery, effort: float = EFFORT
) -> WayOut | None:
    """The way that moves others inside their latitude, if there is one."""
    return by_moving(season, answer, Promised(season, nursery), effort)


@dataclass(frozen=True)
class Promised:
    """The promised lines that could make room, read as they are asked for.

    Beside a large season thousands may ask for what is short, so that they are looked at a few at a time.
    """

    season: terms.Season
    nursery: Nursery

    def movable(self, owners: Sequence[str]) -> list[str]:
        found: list[str] = []
        for start in range(0, len(owners), LOOKED_AT):
            found += _movable(owners[start : start + LOOKED_AT])
            if len(found) >= MOST_OTHERS:
                break
        return found[:MOST_OTHERS]

    def told(self, keys: Sequence[str]) -> list[Told]:
        known = {line.wish.key: line for line in told(keys, self.season.prices, self.nursery)}
        return [known[key] for key in keys]


def _movable(owners: Sequence[str]) -> list[str]:
    """Of these owners ('line:12') the confirmed lines of which nothing is sown or shared."""
    theirs = Allocation.objects.filter(line__in=bridge.lines_named(owners), line__state=states.CONFIRMED).values(
        "part"
    )
    rows = Allocation.objects.filter(part__in=theirs, part__state__in=bridge.LIVING)
    lines_of: dict[tuple[int, str], list[int]] = {}
    for part, state, line in rows.values_list("part", "part__state", "line"):
        lines_of.setdefault((part, state), []).append(line)
    tied = (lines for (_part, state), lines in lines_of.items() if state != Part.State.PLANNED or len(lines) > 1)
    fixed = set(chain.from_iterable(tied))
    may = {bridge.key_of(line) for line in set(chain.from_iterable(lines_of.values())) - fixed}
    return [owner for owner in owners if owner in may]


def told(owners: Iterable[str], prices: terms.Prices, nursery: Nursery) -> list[Told]:
    """Of these owners ('line:12') the confirmed lines of which nothing is sown yet, as they stand."""
    keys = bridge.lines_named(owners)
    lines = (
        OrderLine.objects.filter(pk__in=keys, state=states.CONFIRMED)
        .select_related("order__customer", "scion__crop", "rootstock__crop", "container")
        .order_by("pk")
    )
    parts: dict[int, list[Part]] = {}
    for part in bridge.living_parts().filter(allocations__line__in=keys).distinct().order_by("pk"):
        for allocation in part.allocations.all():
            parts.setdefault(allocation.line_id, []).append(part)
    protocols = bridge.protocols_of(part for several in parts.values() for part in several)
    lots = bridge.open_lots()
    return [
        _told(line, parts[line.pk], protocols, lots, prices, nursery)
        for line in lines
        if parts.get(line.pk) and all(_may_move(part) for part in parts[line.pk])
    ]


def _may_move(part: Part) -> bool:
    """Not sown, and nobody else's as well."""
    return part.state == Part.State.PLANNED and len(part.allocations.all()) == 1


def _told(
    line: OrderLine,
    parts: Sequence[Part],
    protocols: dict[int, Protocol],
    lots: bridge.Lots,
    prices: terms.Prices,
    nursery: Nursery,
) -> Told:
    protocol = protocols.get(parts[0].batch.protocol_id or 0)
    wish = bridge.wish_of(line, nursery=nursery, protocol=protocol, pickup=line.pickup_asked, lots=lots)
    pickup = line.pickup or line.pickup_asked
    plan = bridge.line_plan_of(wish, pickup, parts)
    return Told(wish, replace(plan, cost=cost_of(wish, plan.parts, prices)), pickup)


def _by_other_methods(line: OrderLine, wish: terms.Wish) -> Iterable[terms.Wish]:
    if line.kind != OrderLine.Kind.GRAFTED or line.scion is None:
        return
    others = (
        bridge.protocols().filter(current=True, crop=line.scion.crop).exclude(method__in=[line.method, "plain"])
    )
    for protocol in others.order_by("method"):
        yield replace(wish, recipe=bridge.recipe_of(protocol))
