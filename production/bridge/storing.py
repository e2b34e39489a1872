"""A plan in, rows out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from orders.models import CodeSeries, OrderLine

from ..models import Allocation, Batch, Part, Protocol, Sowing, Stay, Work
from ..planning import terms

SowingRows = Mapping[tuple[str, int], Sowing]  # by subject and number


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
