"""Rows of parts in; their plans, and what has been recorded of them, out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import cast

from django.db.models import Prefetch, QuerySet

from orders.models import OrderLine

from ..models import Allocation, Part, Sowing, Stay, Work
from ..planning import terms
from ..queries.tally import SowingTally, Tally, tally_of

LIVING = (Part.State.PLANNED, Part.State.ALIVE, Part.State.READY)

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
        hours=hours_of(row.hours),
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


def hours_of(stored: Sequence[Sequence[object]]) -> tuple[tuple[str, float], ...]:
    """Hours by skill from what is kept of them."""
    return tuple((str(skill), float(cast("float", hours))) for skill, hours in stored)
