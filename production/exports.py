"""The lists of the nursery's work as files to take away: what each column is headed, and what it says of a row."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext_lazy as _l

from orders.models import OrderLine
from orders.tables.writing import ListFile

from .models import Batch, Part
from .queries.today import DaySheet
from .queries.works import which_sowing

# A row is a part of a batch.
BATCHES = ListFile(
    _l("batches"),
    (
        (_l("Batch"), lambda part: str(part)),
        (_l("What"), lambda part: part.batch.what),
        (_l("Method"), lambda part: part.batch.get_method_display()),
        (_l("For"), lambda part: "; ".join(_for(part))),
        (_l("State"), lambda part: part.get_state_display()),
        (_l("Plants"), lambda part: part.plants),
        (_l("Expected"), lambda part: round(part.expected)),
        (_l("Graft day"), lambda part: part.graft_day),
        (_l("Ready"), lambda part: part.ready_day),
        (_l("Pickup"), lambda part: part.pickup),
        (_l("Days late"), lambda part: part.late_by),
    ),
)

COUNTS = ListFile(
    _l("counts"),
    (
        (_l("Batch"), lambda count: str(count.part)),
        (_l("Day"), lambda count: count.happened_on),
        (_l("Counted"), lambda count: count.get_kind_display()),
        (_l("Plants"), lambda count: count.quantity),
        (_l("Corrected since"), lambda count: count.is_corrected),
        (_l("In place of"), lambda count: count.corrects.quantity if count.corrects else None),
        (_l("Sowing"), lambda count: count.sowing),
        (_l("Which of its side"), lambda count: which_sowing(count.part, count.sowing_id)),
        (_l("Variety"), lambda count: count.sowing.variety if count.sowing else ""),
        (_l("Line"), lambda count: count.line),
        (_l("Why"), lambda count: count.reason),
        (_l("Recorded"), lambda count: count.recorded_at),
        (_l("By"), lambda count: count.by),
    ),
)

WORK = ListFile(
    _l("work"),
    (
        (_l("Day"), lambda row: row["day"]),
        (_l("When"), lambda row: row["when"]),
        (_l("Work"), lambda row: row["work"]),
        (_l("Batch"), lambda row: row["batch"]),
        (_l("Sowing"), lambda row: row["sowing"]),
        (_l("Where"), lambda row: row["where"]),
        (_l("Number"), lambda row: row["number"]),
        (_l("Of what"), lambda row: row["unit"]),
        (_l("Minutes"), lambda row: row["minutes"]),
        (_l("Late since"), lambda row: row["late"]),
        (_l("May wait until"), lambda row: row["wait"]),
        (_l("Waits for"), lambda row: row["waits"]),
        (_l("Done"), lambda row: row["done"]),
    ),
)

PLACES = ListFile(
    _l("places-tonight"),
    (
        (_l("Place"), lambda view: view.place),
        (_l("Measured in"), lambda view: view.place.get_measure_display()),
        (_l("Taken"), lambda view: round(view.tonight.load, 2)),
        (_l("There is"), lambda view: round(view.tonight.capacity, 2)),
        (_l("Too many"), lambda view: round(view.tonight.over, 2)),
        (_l("Stands"), lambda view: len(view.tonight.stands)),
    ),
)


def _labels(stands: Iterable[Any]) -> str:
    return "; ".join(f"{stand.label} ({stand.stay.containers})" for stand in stands)


NIGHTS = ListFile(
    _l("nights"),
    (
        (_l("Night of"), lambda night: night.day),
        (_l("Taken"), lambda night: round(night.load, 2)),
        (_l("There is"), lambda night: round(night.capacity, 2)),
        (_l("Too many"), lambda night: round(night.over, 2)),
        (_l("Stands"), lambda night: _labels(night.stands)),
        (_l("Comes"), lambda night: _labels(night.comes)),
        (_l("Goes"), lambda night: _labels(night.goes)),
    ),
)

LOT_WENT = ListFile(
    _l("where-it-went"),
    (
        (_l("Customer"), lambda way: way.line.order.who if way.line else ""),
        (_l("Line"), lambda way: way.line),
        (_l("Sown"), lambda way: way.sowing.sown_on),
        (_l("Sowing"), lambda way: which_sowing(way.sowing.part, way.sowing.pk)),
        (_l("Seeds"), lambda way: way.seeds),
        (_l("Batch"), lambda way: str(way.sowing.part)),
        (_l("Meant"), lambda way: way.meant),
        (_l("Handed over"), lambda way: way.handed_over),
    ),
)

LINE_CAME = ListFile(
    _l("its-seed"),
    (
        (_l("Lot"), lambda back: back.lot),
        (_l("Variety"), lambda back: back.sowing.variety),
        (_l("Side"), lambda back: back.sowing.get_subject_display()),
        (_l("Belongs to"), lambda back: back.lot.customer if back.lot else ""),
        (_l("Supplier and their lot"), lambda back: back.lot.supplier if back.lot else ""),
        (_l("Sown"), lambda back: back.sown_on),
        (_l("Sowing"), lambda back: which_sowing(back.sowing.part, back.sowing.pk)),
        (_l("Seeds"), lambda back: back.seeds),
        (_l("Batch"), lambda back: str(back.sowing.part)),
    ),
)

PROTOCOLS = ListFile(
    _l("protocols"),
    (
        (_l("Crop"), lambda row: row.crop),
        (_l("Method"), lambda row: row.get_method_display()),
        (_l("Version"), lambda row: row.version),
        (_l("Healing, nights"), lambda row: "; ".join(str(stage.usual) for stage in row.healing)),
        (_l("Take"), lambda row: row.take_share),
        (_l("Kept from take to ready"), lambda row: row.kept_share),
        (_l("Batches"), lambda row: row.batch_count),
    ),
)

CLOSED_DAYS = ListFile(
    _l("closed-days"), ((_l("Day"), lambda closed: closed.day), (_l("Why"), lambda closed: closed.name))
)


# Of a levelling of the season: what it would move, or moved.
MOVES = ListFile(
    _l("moves"),
    (
        (_l("Line"), lambda move: move["label"]),
        (_l("Move"), lambda move: move["words"]),
        (_l("Pickup to tell the customer"), lambda move: move["tells"]),
        (_l("Taken"), lambda move: move["taken"]),
        (_l("Refused"), lambda move: bool(move["refused"])),
    ),
)

# A row is a list of orders that was brought.
ORDER_LISTS = ListFile(
    _l("lists"),
    (
        (_l("File"), lambda kept: kept.name),
        (_l("Brought"), lambda kept: kept.made_at),
        (_l("By"), lambda kept: kept.made_by.shown_name if kept.made_by else ""),
        (_l("State"), lambda kept: kept.get_state_display()),
    ),
)


def _for(part: Part) -> Iterable[str]:
    for allocation in part.allocations.all():
        line: OrderLine = allocation.line
        yield f"{line}, {line.order.who}"


def parts_of(batches: Iterable[Batch]) -> Iterable[Part]:
    for batch in batches:
        for part in batch.parts.all():
            part.batch = batch
            yield part


def work_rows(sheet: DaySheet) -> Iterable[dict[str, Any]]:
    """What is to do on a day, then what was recorded as done on it."""
    for section in sheet.sections:
        for task in section.tasks:
            yield {
                "day": sheet.day,
                "when": section.name,
                "work": task.title,
                "batch": str(task.work.part),
                "sowing": which_sowing(task.work.part, task.work.sowing_id),
                "where": task.where,
                "number": task.figure,
                "unit": task.unit,
                "minutes": round(task.minutes),
                "late": task.late_since,
                "wait": task.may_wait,
                "waits": task.waits,
                "done": False,
            }
    for work in sheet.done:
        nothing: dict[str, Any] = dict.fromkeys(("where", "unit", "minutes", "late", "wait", "waits"))
        yield nothing | {
            "day": sheet.day,
            "when": work.get_part_of_day_display(),
            "work": work.get_kind_display(),
            "batch": str(work.part),
            "sowing": which_sowing(work.part, work.sowing_id),
            "number": work.done_plants,
            "done": True,
        }


# A row is a week of a place or of a set of hands: (week, Row, Box).
LOADS = ListFile(
    _l("season-load"),
    (
        (_l("Week of"), lambda each: each[0]),
        (_l("Place or hands"), lambda each: each[1].label),
        (_l("There is"), lambda each: each[1].room),
        (_l("Taken at the tightest"), lambda each: round(each[2].load, 2)),
        (_l("Of"), lambda each: round(each[2].capacity, 2)),
        (_l("Too much"), lambda each: round(each[2].over, 2)),
    ),
)

# A row is a crop in a week: (week, crop, plants).
PICKUPS = ListFile(
    _l("season-pickups"),
    (
        (_l("Week of"), lambda each: each[0]),
        (_l("Crop"), lambda each: each[1]),
        (_l("Plants"), lambda each: each[2]),
    ),
)

SEED_NEEDS = ListFile(
    _l("seed-to-buy"),
    (
        (_l("Variety"), lambda need: need.variety),
        (_l("Must be here by"), lambda need: need.day),
        (_l("Seeds"), lambda need: need.seeds),
        (_l("In hand"), lambda need: need.in_hand),
        (_l("On the way"), lambda need: need.coming),
        (_l("To buy"), lambda need: need.to_buy),
    ),
)
