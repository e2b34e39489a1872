"""The one file that knows both tables and terms: rows in, terms out; a plan in, rows out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import chain
from typing import cast

from django.db.models import Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from orders.models import CodeSeries, Container, Nursery, OrderLine, Variety

from .models import (
    Allocation,
    Batch,
    ClosedDay,
    Part,
    Person,
    Place,
    Protocol,
    ProtocolStage,
    SeedLot,
    Sowing,
    StageWork,
    Stay,
    Work,
)
from .planning import terms
from .queries.tally import SowingTally, Tally, tally_of

LIVING = (Part.State.PLANNED, Part.State.ALIVE, Part.State.READY)
SowingRows = Mapping[tuple[str, int], Sowing]  # by subject and number
Claims = tuple[list[terms.RoomClaim], list[terms.HandsClaim]]
OWN_CROP_WEIGHT = 0.2  # the lowest weight in levelling


# --- the nursery as terms ----------------------------------------------------------------------------------


def season_of(today: date, *, nursery: Nursery | None = None) -> terms.Season:
    """All that a promise is judged against on `today`, in a handful of queries."""
    return Taken.read(today, nursery or Nursery.current()).season()


def empty_season(today: date, nursery: Nursery) -> terms.Season:
    """The nursery itself, with nothing taken."""
    return terms.Season(
        today=today,
        calendar=calendar_of(nursery),
        places=places(),
        people=people(),
        prices=terms.Prices(hour=float(nursery.hour_price), metre_week=float(nursery.metre_week_price)),
    )


@dataclass
class Taken:
    """The nursery and what each living part takes of it, for planning one part after another beside the rest."""

    empty: terms.Season
    claims: dict[int, Claims]

    @classmethod
    def read(cls, today: date, nursery: Nursery) -> Taken:
        return cls(empty_season(today, nursery), claims_of(today))

    def season(self, *, but: Collection[int] = ()) -> terms.Season:
        """The season with all that is taken, `but` what these parts take."""
        claims = [claimed for part, claimed in self.claims.items() if part not in but]
        return replace(
            self.empty,
            room=tuple(chain.from_iterable(room for room, _hands in claims)),
            hands=tuple(chain.from_iterable(hands for _room, hands in claims)),
        )

    def read_again(self, part: int) -> None:
        """Let what the part takes be what is stored of it now."""
        self.claims.pop(part, None)
        self.claims |= claims_of(self.empty.today, {part})


def calendar_of(nursery: Nursery) -> terms.Calendar:
    return terms.Calendar(
        open_weekdays=frozenset(nursery.open_weekdays),
        closed=frozenset(ClosedDay.objects.values_list("day", flat=True)),
    )


def places() -> tuple[terms.Place, ...]:
    rows = Place.objects.filter(active=True).prefetch_related("openings", "temperatures")
    return tuple(place_of(row) for row in rows)


def place_of(row: Place) -> terms.Place:
    return terms.Place(
        key=str(row.pk),
        name=row.name,
        kinds=frozenset(row.kinds),
        measure="positions" if row.measure == Place.Measure.POSITIONS else "area",
        capacity=row.capacity,
        warmth=terms.Warmth(
            usual=row.temperature,
            spells=tuple((terms.Span(s.first, s.last), s.degrees) for s in row.temperatures.all()),
        ),
        open_spans=tuple(terms.Span(o.first, o.last) for o in row.openings.all()),
    )


def people() -> tuple[terms.Person, ...]:
    rows = Person.objects.filter(active=True).prefetch_related("skills", "absences", "hours_by_part")
    return tuple(
        terms.Person(
            key=str(row.pk),
            name=row.name,
            skills=frozenset(skill.name for skill in row.skills.all()),
            hours=cast("tuple[float, float, float, float, float, float, float]", tuple(map(float, row.hours))),
            care_hours=float(row.care_hours),
            away=tuple(terms.Span(a.first, a.last) for a in row.absences.all()),
            **_by_part(row),
        )
        for row in rows
    )


def _by_part(row: Person) -> dict[str, terms.SaidByWeekday]:
    """Hours said to lie in a part of the day; never more than the day has, should its hours have become fewer."""
    left, said = [float(hours) for hours in row.hours], dict[str, terms.SaidByWeekday]()
    for part in row.hours_by_part.all():
        pairs = list(zip(part.hours, left, strict=True))
        hours = [None if each is None else min(float(each), most) for each, most in pairs]
        left = [most - (each or 0.0) for each, most in zip(hours, left, strict=True)]
        said[f"{part.part}s"] = cast("terms.SaidByWeekday", tuple(hours))
    return said


def container_of(row: Container) -> terms.Container:
    return terms.Container(
        key=str(row.pk), name=row.name, plants=row.plants, positions=row.positions, area=row.area
    )


# --- what is taken already ---------------------------------------------------------------------------------


def claims_of(today: date, parts: Collection[int] | None = None) -> dict[int, Claims]:
    """By living part, or of some: the nights from today on that it takes of a place, the hours it still asks."""
    of_parts = Q() if parts is None else Q(part__in=parts)
    owners = _owners(Q() if parts is None else Q(pk__in=parts))
    claims: dict[int, Claims] = {pk: ([], []) for pk in sorted(owners)}
    for pk, room in _room_claims(Stay.objects.filter(of_parts), today, owners):
        claims[pk][0].append(room)
    for pk, hands in _hands_claims(Work.objects.filter(of_parts), today, owners):
        claims[pk][1].append(hands)
    return claims


def claims_within(first: date, last: date, *, today: date) -> Claims:
    """What is taken of the days `first` to `last` from today on, whoever takes it; read for these days only."""
    stays = Stay.objects.within(first, last)
    due = Q(day__gte=first)
    if first <= today:  # what should have moved on stands there still, and what is overdue is work of today
        stays |= Stay.objects.filter(entered=True, left=False, first__lte=last)
        due = Q()
    works = Work.objects.filter(due, state=Work.State.PLANNED, day__lte=last)
    owners = _owners(Q(pk__in=stays.values("part")) | Q(pk__in=works.values("part")))
    return (
        [claim for _part, claim in _room_claims(stays, today, owners)],
        [claim for _part, claim in _hands_claims(works, today, owners)],
    )


def _owners(which: Q) -> dict[int, tuple[str, str]]:
    """Whose the claims of each living part are, as key and as label.

    They belong to the first line that the part is for, or to the part itself while nobody ordered it.
    """
    living = Part.objects.filter(which, state__in=LIVING)
    allocated = Allocation.objects.filter(part__in=living)
    owners = {
        pk: (f"part:{pk}", _("Batch %(code)s") % {"code": code})
        for pk, code in living.values_list("pk", "batch__code")
    }
    rows = allocated.order_by("-line_id").values_list("part_id", "line_id", "line__number", "line__order__code")
    for pk, line, number, code in rows:
        words = _("Order %(code)s, line %(number)s") if number > 1 else _("Order %(code)s")
        owners[pk] = (f"line:{line}", words % {"code": code, "number": number})
    return owners


def _room_claims(
    stays: QuerySet[Stay], today: date, owners: Mapping[int, tuple[str, str]]
) -> Iterable[tuple[int, terms.RoomClaim]]:
    """Plants that should have moved on but were not recorded as gone still take the coming night."""
    rows = stays.filter(part__state__in=LIVING, left=False)
    for part, place, first, nights, load, entered in rows.values_list(
        "part_id", "place_id", "first", "nights", "load", "entered"
    ):
        if part not in owners:
            continue
        if entered and first + timedelta(days=nights) <= today:
            nights = (today - first).days + 1
        if first + timedelta(days=nights) > today:
            owner, label = owners[part]
            yield part, terms.RoomClaim(owner, label, str(place), first, nights, load)


def _hands_claims(
    works: QuerySet[Work], today: date, owners: Mapping[int, tuple[str, str]]
) -> Iterable[tuple[int, terms.HandsClaim]]:
    """What is overdue is work of today."""
    rows = works.filter(state=Work.State.PLANNED, part__state__in=LIVING)
    for part, day, of_day, hours, care in rows.values_list("part_id", "day", "part_of_day", "hours", "care"):
        if part in owners and hours:
            owner, label = owners[part]
            when = cast("terms.PartOfDay", of_day)
            yield part, terms.HandsClaim(owner, label, max(day, today), _hours(hours), care, when)


def _hours(pairs: Sequence[Sequence[object]]) -> tuple[tuple[str, float], ...]:
    return tuple((str(skill), float(cast("float", hours))) for skill, hours in pairs)


# --- protocols and varieties as terms -----------------------------------------------------------------------


def current_protocol(line: OrderLine) -> Protocol | None:
    """The protocol a new line of this crop and method is planned with."""
    if line.scion is None:
        return None
    method = "plain" if line.kind == OrderLine.Kind.PLAIN else line.method
    return protocols().filter(crop=line.scion.crop_id, method=method, current=True).first()


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


def lot_for(variety: Variety, line: OrderLine, whose: str) -> SeedLot | None:
    """The lot that a line's sowing would take: in hand before expected, the oldest first."""
    if variety._state.adding:
        return None  # made on the order line just now
    lots = SeedLot.objects.filter(variety=variety, used_up=False)
    if whose == OrderLine.Seed.CUSTOMERS:
        lots = lots.filter(customer__isnull=False, customer=line.order.customer_id if line.order_id else None)
    else:
        lots = lots.filter(customer__isnull=True)
    ordered = sorted(lots, key=lambda lot: (lot.received_on is None, lot.received_on or lot.expected_on, lot.pk))
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
) -> terms.Wish:
    """A line, saved or not, as the planner sees it. `pickup` and `quantity` stand in for the line's own."""
    return terms.Wish(
        key=key or f"line:{line.pk}",
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
        rootstock=_side(line, line.rootstock, line.rootstock_seed, line.rootstock_seed_expected),
        scion=_side(line, line.scion, line.scion_seed, line.scion_seed_expected),
        container=container_of(line.container),
        room=_room_wish(line),
        level=nursery.service_level,
        weight=OWN_CROP_WEIGHT if line.order_id and line.order.own_crop else 1.0,
    )


def _side(line: OrderLine, variety: Variety | None, whose: str, expected: date | None) -> terms.Material | None:
    if variety is None:
        return None
    lot = lot_for(variety, line, whose)
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


# --- plans into rows -----------------------------------------------------------------------------------------


def store_line(line: OrderLine, plan: terms.LinePlan, protocol: Protocol | None) -> Batch:
    """Write a whole plan as a batch with its parts, allocated to the line."""
    batch = Batch.objects.create(
        code=f"B{CodeSeries.take('batch')}",
        kind=line.kind,
        scion=line.scion,
        rootstock=line.rootstock if line.kind == OrderLine.Kind.GRAFTED else None,
        method=line.method if line.kind == OrderLine.Kind.GRAFTED else "plain",
        protocol=protocol,
    )
    for part_plan in plan.parts:
        part = Part.objects.create(
            batch=batch,
            number=part_plan.number,
            plants=part_plan.plants,
            container=line.container,
            topped=line.topped,
            pickup=plan.pickup,
            ready_day=part_plan.ready,
        )
        Allocation.objects.create(part=part, line=line, quantity=part_plan.plants)
        write_part(part, part_plan)
    return batch


def write_part(part: Part, plan: terms.PartPlan) -> None:
    """Write a part's numbers, sowings, stays and works as planned; the part has none of them yet."""
    _write_numbers(part, plan)
    sowings: SowingRows = {(each.subject, each.number): _new_sowing(part, each) for each in plan.sowings}
    write_stays(part, plan.stays, sowings)
    write_works(part, plan.works, sowings)


def _write_numbers(part: Part, plan: terms.PartPlan) -> None:
    part.grafts = plan.sizing.grafts
    part.graft_day = plan.graft_day
    part.ready_day = plan.ready
    part.chance = plan.sizing.chance
    part.expected = plan.sizing.expected
    part.expected_low = part.expected_high = round(plan.sizing.expected)
    part.reasons = [[reason.what, reason.day.isoformat(), reason.why] for reason in plan.reasons]
    part.save()


def _new_sowing(part: Part, plan: terms.SowingPlan) -> Sowing:
    return Sowing.objects.create(
        code=f"S{CodeSeries.take('sowing')}",
        part=part,
        subject=plan.subject,
        number=plan.number,
        variety_id=int(plan.material),
        container_id=int(plan.container),
        day=plan.day,
        seeds=plan.seeds,
        trays=plan.trays,
        emerges=plan.emerges,
        graftable_from=plan.graftable_from,
        graftable_to=plan.graftable_to,
    )


def write_stays(part: Part, stays: Iterable[terms.StayPlan], sowings: SowingRows) -> None:
    Stay.objects.bulk_create(
        Stay(
            part=part,
            sowing=sowings.get((stay.subject, stay.sowing)),
            subject=stay.subject,
            stage=stay.stage,
            stage_kind=stay.stage_kind,
            place_id=int(stay.place),
            container_id=int(stay.container),
            containers=stay.containers,
            first=stay.first,
            nights=stay.nights,
            load=stay.load,
        )
        for stay in stays
    )


def stored_hours(hours: Iterable[tuple[str, float]]) -> list[list[object]]:
    """Hours by skill as they are kept: so finely that the referee finds in a stored plan what it let pass."""
    return [[skill, round(each, 8)] for skill, each in hours]


def write_works(part: Part, works: Iterable[terms.WorkPlan], sowings: SowingRows) -> None:
    Work.objects.bulk_create(
        Work(
            part=part,
            sowing=sowings.get((work.subject, work.sowing)),
            kind=work.kind,
            subject=work.subject,
            stage=work.stage,
            day=work.day,
            due=work.day,
            part_of_day=work.part,
            plants=work.plants,
            hours=stored_hours(work.hours),
            care=work.care,
            note=work.note,
        )
        for work in works
    )


# --- rows into plans ------------------------------------------------------------------------------------------


def line_plan_of(wish: terms.Wish, pickup: date, parts: Iterable[Part]) -> terms.LinePlan:
    """The plan of a line from its stored parts, numbered from 1. It says nothing of cost."""
    plans = (replace(part_plan_of(part), number=number) for number, part in enumerate(parts, start=1))
    return terms.LinePlan(wish, pickup, tuple(plans))


def part_plan_of(part: Part) -> terms.PartPlan:
    """A stored part as the plan it is, the past as recorded and the rest as planned."""
    sowings = list(part.sowings.all())
    seeds = Counter[str]()
    for sowing in sowings:
        seeds[sowing.subject] += sowing.seeds
    numbers = _numbers(part)
    return terms.PartPlan(
        number=part.number,
        plants=part.plants,
        sizing=terms.Sizing(
            grafts=part.grafts,
            rootstock_seeds=seeds["rootstock"],
            scion_seeds=seeds["scion"] or seeds["plain"],
            chance=part.chance,
            expected=part.expected,
        ),
        graft_day=part.graft_day,
        ready=part.ready_day,
        sowings=tuple(_sowing_plan(sowing) for sowing in sowings),
        stays=tuple(_stay_plan(stay, numbers) for stay in part.stays.all()),
        works=tuple(_work_plan(work, numbers) for work in part.works.all() if work.state != Work.State.DROPPED),
        reasons=tuple(terms.Reason(what, date.fromisoformat(day), why) for what, day, why in part.reasons),
    )


def _numbers(part: Part) -> dict[int | None, int]:
    """By key, the number of each sowing among those of its side; what is of no sowing is of number 1."""
    return {None: 1} | {sowing.pk: sowing.number for sowing in part.sowings.all()}


def _sowing_plan(row: Sowing) -> terms.SowingPlan:
    return terms.SowingPlan(
        subject=cast("terms.Subject", row.subject),
        material=str(row.variety_id),
        day=row.sown_on or row.day,
        seeds=row.seeds,
        container=str(row.container_id),
        trays=row.trays,
        emerges=row.emerges,
        graftable_from=row.graftable_from,
        graftable_to=row.graftable_to,
        number=row.number,
    )


def _stay_plan(row: Stay, numbers: Mapping[int | None, int]) -> terms.StayPlan:
    return terms.StayPlan(
        subject=cast("terms.Subject", row.subject),
        stage=row.stage,
        stage_kind=row.stage_kind,
        place=str(row.place_id),
        first=row.first,
        nights=row.nights,
        container=str(row.container_id),
        containers=row.containers,
        load=row.load,
        sowing=numbers[row.sowing_id],
    )


def _work_plan(row: Work, numbers: Mapping[int | None, int]) -> terms.WorkPlan:
    return terms.WorkPlan(
        kind=row.kind,
        subject=cast("terms.Subject", row.subject),
        stage=row.stage,
        day=row.done_on or row.day,
        part=cast("terms.PartOfDay", row.part_of_day),
        plants=row.plants,
        hours=_hours(row.hours),
        care=row.care,
        note=row.note,
        sowing=numbers[row.sowing_id],
    )


def facts_of(part: Part) -> terms.PartFacts:
    """What has been recorded of a part, corrections applied."""
    tally, numbers = tally_of(part), _numbers(part)
    works = [work for work in part.works.all() if work.state != Work.State.PLANNED]
    return terms.PartFacts(
        sowings=tuple(_sowing_facts(sowing, tally) for sowing in tally.sowings),
        grafted_on=tally.grafted_on,
        grafted=tally.grafted,
        taken=tally.taken,
        lost_after_take=tally.lost,
        ready=tally.ready,
        ready_on=tally.ready_on,
        entered=tuple(_entered(part, numbers)),
        done=tuple(
            terms.Done(work.kind, cast("terms.Subject", work.subject), work.stage, numbers[work.sowing_id])
            for work in works
        ),
    )


def _sowing_facts(counted: SowingTally, tally: Tally) -> terms.SowingFacts:
    """Losses since the latest count are taken from it: what is up, or fit to use, and still there."""
    sowing = counted.sowing
    there = counted.seedlings - (tally.lost if sowing.subject == Sowing.Subject.PLAIN else 0)
    return terms.SowingFacts(
        subject=cast("terms.Subject", sowing.subject),
        sown=sowing.sown_on,
        seeds=counted.sown,
        emerged=counted.emerged if counted.emerged is None or counted.usable is not None else there,
        emerged_on=counted.emerged_on,
        usable=counted.usable if counted.usable is None else there,
        number=sowing.number,
    )


def _entered(part: Part, numbers: Mapping[int | None, int]) -> Iterable[terms.Entered]:
    """The day on which the first of its plants came to a stage: of a side, the first of each sowing."""
    entered: dict[tuple[str, int], date] = {}
    for stay in part.stays.all():
        if stay.entered:
            key = stay.stage, numbers[stay.sowing_id]
            entered[key] = min(stay.first, entered.get(key, stay.first))
    return (terms.Entered(stage, day, number) for (stage, number), day in entered.items())


_WITH_LINE = ("line__order", "line__scion", "line__rootstock", "line__container")


def living_parts() -> QuerySet[Part]:
    """Parts that still take room, with all that turning them into terms needs."""
    return (
        Part.objects.filter(state__in=LIVING)
        .select_related("batch__protocol", "batch__scion", "batch__rootstock", "container")
        .prefetch_related(
            "sowings",
            "stays",
            "works",
            "counts",
            Prefetch("allocations", queryset=Allocation.objects.select_related(*_WITH_LINE)),
        )
    )


def parts_of(line: OrderLine) -> QuerySet[Part]:
    """The parts that are meant for a line, dropped ones left out."""
    return (
        Part.objects.filter(allocations__line=line)
        .exclude(state=Part.State.DROPPED)
        .select_related("batch__protocol", "batch__scion", "batch__rootstock", "container")
        .prefetch_related("sowings", "stays", "works")
    )
