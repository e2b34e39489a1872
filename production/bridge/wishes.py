"""What is asked and how it is grown, as terms: lines, varieties with their seed, protocols."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import cast

from django.db.models import Prefetch, QuerySet

from orders.models import Nursery, OrderLine, Variety

from ..models import Part, Protocol, ProtocolStage, SeedLot, StageWork
from ..planning import terms
from .keys import key_of
from .nursery import container_of

OWN_CROP_WEIGHT = 0.2  # the lowest weight in levelling


def current_protocol(line: OrderLine) -> Protocol | None:
    """The protocol a new line of this crop and method is planned with."""
    return current_protocols([line])[0]


def current_protocols(lines: Sequence[OrderLine]) -> list[Protocol | None]:
    """The same of several lines, in their order; read together, and each of them once."""
    asked = [(line.scion.crop_id, _method(line)) if line.scion else None for line in lines]
    crops, methods = {each[0] for each in asked if each}, {each[1] for each in asked if each}
    if not crops:
        return [None for _line in lines]
    rows = protocols().filter(current=True, crop__in=crops, method__in=methods)
    found = {(row.crop_id, row.method): row for row in rows}
    return [found.get(each) if each else None for each in asked]


def _method(line: OrderLine) -> str:
    return "plain" if line.kind == OrderLine.Kind.PLAIN else line.method


def protocols() -> QuerySet[Protocol]:
    works = StageWork.objects.select_related("skill", "helper_skill")
    stages = ProtocolStage.objects.select_related("container").prefetch_related(Prefetch("works", queryset=works))
    return Protocol.objects.select_related("crop").prefetch_related(Prefetch("stages", queryset=stages))


def protocols_of(parts: Iterable[Part]) -> dict[int, Protocol]:
    """The versions that these parts were planned with, by their keys."""
    return protocols().in_bulk({part.batch.protocol_id for part in parts if part.batch.protocol_id})


def recipe_of(protocol: Protocol) -> terms.Recipe:
    tracks: dict[str, list[terms.Stage]] = {track: [] for track in ProtocolStage.Track.values}
    for stage in sorted(protocol.stages.all(), key=lambda stage: stage.order):
        tracks[stage.track].append(_stage_of(stage))
    return terms.Recipe(
        key=str(protocol.pk),
        name=str(protocol),
        method=protocol.method,
        rootstock=tuple(tracks["rootstock"]),
        scion=tuple(tracks["scion"]),
        union=tuple(tracks["union"]),
        plain=tuple(tracks["plain"]),
        topping=terms.Nights(protocol.topping_shortest, protocol.topping_usual, protocol.topping_longest),
        topped_room=protocol.topped_room,
        take=terms.Rate(protocol.take_share, protocol.take_weight),
        kept=terms.Rate(protocol.kept_share, protocol.kept_weight),
        keeping=protocol.keeping_nights,
        rootstock_sowings=protocol.rootstock_sowings,
        scion_sowings=protocol.scion_sowings,
        sown_apart=protocol.sown_apart,
    )


def _stage_of(row: ProtocolStage) -> terms.Stage:
    return terms.Stage(
        key=row.key,
        kind=row.kind,
        name=row.name,
        place_kinds=tuple(row.place_kinds),
        container=container_of(row.container) if row.container else None,
        nights=terms.Nights(row.shortest, row.usual, row.longest),
        works=tuple(_work_rule(work) for work in sorted(row.works.all(), key=lambda work: work.order)),
    )


def _work_rule(row: StageWork) -> terms.WorkRule:
    hands = [(row.skill.name, row.per_hour)]
    if row.helper_skill:
        hands.append((row.helper_skill.name, row.per_hour))
    return terms.WorkRule(
        kind=row.kind,
        hands=tuple(hands),
        part=cast("terms.PartOfDay", row.part),
        after=row.after,
        at_end=row.at_end,
        care=row.care,
        note=row.note,
    )


def material_of(
    variety: Variety, *, lot: SeedLot | None, seed_on_hand: date | None, bought: bool = True
) -> terms.Material:
    """A variety as one line uses it; the test of its lot sharpens the share that emerges.

    Seed that is not `bought` but brought by the customer costs nothing.
    """
    price = variety.seed_price if bought else 0
    return terms.Material(
        key=str(variety.pk),
        name=variety.name,
        clock=terms.Clock(
            emergence_sum=variety.emergence_sum,
            emergence_base=variety.emergence_base,
            emergence_ceiling=variety.emergence_ceiling,
            growth_base=variety.growth_base,
            growth_ceiling=variety.growth_ceiling,
            graftable_first=variety.graftable_first,
            graftable_aim=variety.graftable_aim,
            graftable_last=variety.graftable_last,
        ),
        emerged=_emerged(variety, lot),
        usable=terms.Rate(variety.usable_share, variety.evidence_weight),
        seed_on_hand=seed_on_hand,
        seed_price=None if price is None else float(price),
    )


def _emerged(variety: Variety, lot: SeedLot | None) -> terms.Rate:
    """The Beta of the variety, updated with the germination test of the lot (conjugate: counts add up)."""
    mean, weight = variety.emerged_share, variety.evidence_weight
    if lot is None or not lot.tested_seeds or lot.germinated_seeds is None:
        return terms.Rate(mean, weight)
    total = weight + lot.tested_seeds
    return terms.Rate((mean * weight + lot.germinated_seeds) / total, total)


Lots = Mapping[int, Sequence[SeedLot]]  # by variety


def open_lots() -> Lots:
    """The lots that are not used up, for whoever makes wishes of many lines and so asks for them once."""
    found: dict[int, list[SeedLot]] = {}
    for lot in SeedLot.objects.filter(used_up=False):
        found.setdefault(lot.variety_id, []).append(lot)
    return found


def lot_for(variety: Variety, line: OrderLine, whose: str, lots: Lots | None = None) -> SeedLot | None:
    """The lot that a line's sowing would take: in hand before expected, the oldest first."""
    if variety._state.adding:
        return None  # made on the order line just now
    theirs = whose == OrderLine.Seed.CUSTOMERS
    owner = line.order.customer_id if theirs and line.order_id else None
    if theirs and owner is None:
        return None
    if lots is None:
        found: Iterable[SeedLot] = SeedLot.objects.filter(variety=variety, used_up=False, customer=owner)
    else:
        found = (lot for lot in lots.get(variety.pk, ()) if lot.customer_id == owner)
    ordered = sorted(found, key=lambda lot: (lot.received_on is None, lot.received_on or lot.expected_on, lot.pk))
    return ordered[0] if ordered else None


def _seed_day(lot: SeedLot | None, expected: date | None) -> date | None:
    """The day from which the seed can be sown; None when nothing holds it back."""
    if lot is not None and lot.received_on is not None:
        return None
    return expected or (lot.expected_on if lot else None)


def wish_of(
    line: OrderLine,
    *,
    nursery: Nursery,
    protocol: Protocol | None = None,
    pickup: date | None = None,
    quantity: int | None = None,
    key: str = "",
    label: str = "",
    lots: Lots | None = None,
) -> terms.Wish:
    """A line, saved or not, as the planner sees it. `pickup` and `quantity` stand in for the line's own.

    Without `lots` the database is asked for those of its varieties.
    """
    return terms.Wish(
        key=key or key_of(line.pk),
        label=label or str(line),
        kind=cast("terms.LineKind", line.kind),
        quantity=quantity if quantity is not None else line.quantity,
        pickup=pickup or line.pickup or line.pickup_asked,
        earlier=line.earlier,
        later=line.later,
        collection=max(line.collection_days, 1),
        leaders=1 if line.leaders == OrderLine.Leaders.ONE else 2,
        topped=line.topped,
        recipe=recipe_of(protocol) if protocol else None,
        rootstock=_side(line, line.rootstock, line.rootstock_seed, line.rootstock_seed_expected, lots),
        scion=_side(line, line.scion, line.scion_seed, line.scion_seed_expected, lots),
        container=container_of(line.container),
        room=_room_wish(line),
        level=nursery.service_level,
        weight=OWN_CROP_WEIGHT if line.order_id and line.order.own_crop else 1.0,
    )


def _side(
    line: OrderLine, variety: Variety | None, whose: str, expected: date | None, lots: Lots | None
) -> terms.Material | None:
    if variety is None:
        return None
    lot = lot_for(variety, line, whose, lots)
    ours = whose != OrderLine.Seed.CUSTOMERS
    return material_of(variety, lot=lot, seed_on_hand=_seed_day(lot, expected), bought=ours)


def _room_wish(line: OrderLine) -> terms.RoomWish | None:
    if line.kind != OrderLine.Kind.ROOM:
        return None
    return terms.RoomWish(
        place_kind=line.room_place_kind,
        container=container_of(line.container),
        containers=line.quantity,
        nights=line.room_nights or 1,
    )
