"""Lines that share a batch: joining one that is not sown yet, and leaving it again.

The part is planned anew with the plants of all on it; each line keeps the pickup it was promised.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orders import history, states
from orders.jobs import enqueue
from orders.models import Nursery, OrderLine, User
from orders.refusals import Refused

from .. import bridge, shared
from ..models import Allocation, Batch, Part, Protocol
from ..planning import terms
from ..planning.forecast import outlook
from ..planning.joining import Joined, Unsown, may_join
from ..planning.options import Ways, cost_of
from ..planning.promise import load_for
from ..planning.ways_out import by_joining
from .common import locked
from .rolled import store_rolled

MOST = 5  # batches that are thought of, those picked up nearest to what is asked


@dataclass(frozen=True, slots=True)
class Joining:
    """The part to be joined, and the revision of it that somebody has seen; None: as it stands now."""

    part: int
    seen: int | None = None


def named(name: str, seen: int | None = None) -> Joining:
    """The part of that name, 'B12', or 'B12-2' for the second part of a batch. Refused if there is none."""
    code, _dash, number = name.strip().partition("-")
    parts = Part.objects.filter(batch__code__iexact=code, number=int(number) if number.isdecimal() else 1)
    pk = parts.values_list("pk", flat=True).first()
    if pk is None:
        raise Refused(
            _("There is no batch %(name)s.") % {"name": name.strip()},
            mend=_("Look at the answer again: it names the batches that can be joined."),
            field="joining",
        )
    return Joining(pk, seen)


# --- which batches -------------------------------------------------------------------------------------------


def unsown_near(line: OrderLine, wish: terms.Wish, *, season: terms.Season, nursery: Nursery) -> list[Unsown]:
    """The batches of which nothing is sown that the line could be part of, the nearest pickup first."""
    if wish.recipe is None or wish.scion is None or not line.scion or line.scion._state.adding:
        return []
    around = timedelta(days=wish.recipe.keeping)
    first, last = wish.pickup - timedelta(days=wish.earlier), wish.pickup + timedelta(days=wish.later)
    like = _like(line, wish.recipe).filter(pickup__range=(first - around, last + around))
    days = like.values_list("pk", "pickup")
    near = [pk for pk, _pickup in sorted(days, key=lambda each: (abs((each[1] - wish.pickup).days), each[0]))]
    found: list[Unsown] = []
    for start in range(0, len(near), MOST):  # beside a large season there are many, and few are wanted
        some = bridge.living_parts().in_bulk(near[start : start + MOST])
        found += _open_to(line, wish, [some[pk] for pk in near[start : start + MOST]], season, nursery)
        if len(found) >= MOST:
            break
    return found[:MOST]


def _open_to(
    line: OrderLine, wish: terms.Wish, parts: Sequence[Part], season: terms.Season, nursery: Nursery
) -> Iterator[Unsown]:
    protocols, lots = bridge.protocols_of(parts), bridge.open_lots()
    for part in parts:
        if why_closed(part, line) is None:
            protocol = protocols.get(part.batch.protocol_id or 0)
            unsown = unsown_of(part, protocol, season=season, nursery=nursery, lots=lots)
            if may_join(wish, unsown.wish) and unsown.plan.first_day >= season.today:
                yield unsown


def _like(line: OrderLine, recipe: terms.Recipe) -> QuerySet[Part]:
    return Part.objects.filter(
        state=Part.State.PLANNED,
        batch__kind=line.kind,
        batch__protocol=int(recipe.key),
        batch__scion=line.scion,
        batch__rootstock=line.rootstock if line.kind == OrderLine.Kind.GRAFTED else None,
        container=line.container,
        topped=line.topped,
    )


def unsown_of(
    part: Part,
    protocol: Protocol | None,
    *,
    season: terms.Season,
    nursery: Nursery,
    lots: bridge.Lots | None = None,
) -> Unsown:
    """A planned part as the planner sees it; its claims are in the season under the owner given here."""
    wish = shared.wish_of_part(part, nursery=nursery, protocol=protocol, calendar=season.calendar, lots=lots)
    lines, plan = shared.lines_of(part), replace(bridge.part_plan_of(part), number=1)
    owner = bridge.key_of(lines[0].pk) if lines else wish.key
    cost = cost_of(wish, [plan], season.prices)
    return Unsown(str(part), owner, wish, terms.LinePlan(wish, part.pickup, (plan,), cost), part.revision)


def why_closed(part: Part, line: OrderLine) -> Refused | None:
    """Why the plants of a line cannot be let into a part, whatever room there is."""
    lines = shared.lines_of(part)
    if part.state != Part.State.PLANNED or any(sowing.sown_on for sowing in part.sowings.all()):
        reason = _("Batch %(name)s is not waiting to be sown any more.")
    elif not lines or any(each.state != states.CONFIRMED for each in lines):
        reason = _("Batch %(name)s is not grown for promised lines alone.")
    elif not all(_same_seed(line, each) for each in lines):
        reason = _("Batch %(name)s is sown from seed of another customer.")
    else:
        return None
    return Refused(reason % {"name": part}, mend=_("Look at the answer again."), field="joining")


def _same_seed(line: OrderLine, other: OrderLine) -> bool:
    """Seed of ours, or of the one customer whose order both lines are of."""
    whose = (line.scion_seed, line.rootstock_seed)
    if whose != (other.scion_seed, other.rootstock_seed):
        return False
    return OrderLine.Seed.CUSTOMERS not in whose or _customer(line) == _customer(other) is not None


def _customer(line: OrderLine) -> int | None:
    return line.order.customer_id if line.order_id else None


# --- joining -------------------------------------------------------------------------------------------------


def way_into(
    among: Sequence[Joining],
    line: OrderLine,
    answer: terms.Answer,
    grown: Mapping[int, Joined],
    *,
    season: terms.Season,
    nursery: Nursery,
) -> tuple[Part, Joined]:
    """The first of these parts that takes a line which does not fit alone, and what it becomes.

    `grown` are parts, by key, with the lines that joined them just before. Refused, as by the last of them, if
    there is no way into any.
    """
    refused: Refused | None = None
    for joining in among:
        try:
            return _way_into(joining, line, answer, grown, season, nursery)
        except Refused as found:
            refused = found
    assert refused
    raise refused


def _way_into(
    joining: Joining,
    line: OrderLine,
    answer: terms.Answer,
    grown: Mapping[int, Joined],
    season: terms.Season,
    nursery: Nursery,
) -> tuple[Part, Joined]:
    part = bridge.living_parts().filter(pk=joining.part).first()
    if part is None:
        raise Refused(
            _("That batch is not planned any more."), mend=_("Look at the answer again."), field="joining"
        )
    if joining.seen is not None and part.revision != joining.seen:
        raise Refused(
            _("Batch %(name)s was changed meanwhile.") % {"name": part},
            mend=_("Look at the answer again."),
            field="joining",
        )
    closed = why_closed(part, line)
    if closed:
        raise closed
    if part.pk in grown:
        unsown = grown[part.pk].then
    else:
        protocol = bridge.protocols_of([part]).get(part.batch.protocol_id or 0)
        unsown = unsown_of(part, protocol, season=season, nursery=nursery)
    if not may_join(answer.wish, unsown.wish):
        raise Refused(
            _("Batch %(name)s grows other plants, or by another protocol or in another pot or tray.")
            % {"name": part},
            mend=_("Choose a batch that the answer names."),
            field="joining",
        )
    way = by_joining(season, answer, unsown)
    if way is None or way.joins is None:
        raise Refused(
            _("Batch %(name)s cannot take %(n)s plants more.") % {"name": part, "n": line.quantity},
            mend=_("Choose another way out."),
            field="joining",
        )
    return part, way.joins


def store_joined(
    part: Part, lines: Sequence[OrderLine], joined: Joined, *, season: terms.Season, by: User | str | None
) -> None:
    """Write the part as it is with these lines on it. In the transaction that holds its lock and has it judged."""
    before = part.plants
    for line in lines:
        Allocation.objects.create(part=part, line=line, quantity=line.quantity)
    _store(part, joined.plan.parts[0], joined.plan.wish, season)
    for line in lines:
        words = _("%(line)s joins: %(n)s plants, not %(before)s")
        said = words % {"line": line, "n": before + line.quantity, "before": before}
        before += line.quantity
        history.record(by=by, what="line joined", subject=part.batch, text=said, part=part.number, line=str(line))
        history.record(
            by=by,
            what="line joined",
            subject=line.order,
            text=_("Line %(n)s joins batch %(part)s") % {"n": line.number, "part": part},
        )


def _store(part: Part, plan: terms.PartPlan, wish: terms.Wish, season: terms.Season) -> None:
    """A part that is not sown, planned anew as a whole: what was computed of it before is not stored any more."""
    part.plants, part.pickup, part.revision = plan.plants, wish.pickup, part.revision + 1
    store_rolled(part, terms.Rolled(plan, _expected(plan, wish)), calendar=season.calendar, today=season.today)


def _expected(plan: terms.PartPlan, wish: terms.Wish) -> terms.Outlook:
    recipe, scion = wish.recipe, wish.scion
    assert recipe
    assert scion
    grafted = (wish.rootstock, recipe.take) if wish.rootstock else ()
    return outlook(plan.plants, terms.PartFacts(), plan.sizing, scion, recipe.kept, *grafted)


# --- leaving -------------------------------------------------------------------------------------------------


def alone(line: OrderLine) -> set[int]:
    """The living parts that are for this line and no other: what it gives back when it moves."""
    parts = Part.objects.filter(allocations__line=line, state__in=bridge.LIVING)
    shared_ones = Allocation.objects.filter(part__in=parts).exclude(line=line).values("part")
    return set(parts.exclude(pk__in=shared_ones).values_list("pk", flat=True))


def give_back(line: OrderLine) -> None:
    """Drop the planned parts of a line that is not sown yet: their rows go, their room is free.

    In a part that others share only the line's own plants are given up.
    """
    mine = alone(line)
    for part in Part.objects.filter(allocations__line=line).exclude(pk__in=mine).order_by("pk"):
        leave(locked(part), line)
    parts = Part.objects.filter(pk__in=mine, state=Part.State.PLANNED)
    batches = list(parts.values_list("batch", flat=True))
    parts.delete()
    Batch.objects.filter(pk__in=batches, parts__isnull=True).delete()


def leave(part: Part, line: OrderLine) -> None:
    """Take a line off a locked part; if it is not sown, it is planned anew for those that share it."""
    part.allocations.filter(line=line).delete()
    left = list(part.allocations.select_related("line"))
    if part.state != Part.State.PLANNED or not left:
        return
    part.plants = sum(each.quantity for each in left)
    part.pickup = shared.first_pickup(part, [each.line for each in left])
    part.revision += 1
    part.save(update_fields=["plants", "pickup", "revision"])
    enqueue("resize", f"resize:{part.pk}:{part.revision}", {"part": part.pk})


def smaller(part: Part, *, season: terms.Season, nursery: Nursery) -> terms.LinePlan | None:
    """A part of which nothing is sown, planned anew at its size; None where it stays as it is.

    `season` is without what the part takes.
    """
    protocol = bridge.protocols_of([part]).get(part.batch.protocol_id or 0)
    wish = shared.wish_of_part(part, nursery=nursery, protocol=protocol, calendar=season.calendar)
    try:
        plan = Ways(load_for(season, [wish]), wish, parts=1).first([wish.pickup])
    except terms.Impossible:
        return None
    return replace(plan, wish=replace(plan.wish, earlier=0, later=0)) if plan else None


def store_smaller(part: Part, plan: terms.LinePlan, season: terms.Season) -> None:
    """Write what `smaller` found, in the transaction that holds the part's lock and has it judged."""
    _store(part, plan.parts[0], plan.wish, season)
