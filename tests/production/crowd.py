"""Many batches at once: one planned batch copied, each copy some days later, without asking the planner."""

from __future__ import annotations

import copy
import uuid
from datetime import date, timedelta
from typing import Any

from orders.models import Order, OrderLine
from production.models import Allocation, Batch, Part, Sowing, Stay, Work

DAYS = {
    OrderLine: ("pickup_asked", "pickup"),
    Part: ("graft_day", "ready_day", "pickup"),
    Sowing: ("day", "emerges", "graftable_from", "graftable_to"),
    Stay: ("first",),
    Work: ("day", "due"),
}


def crowd(part: Part, copies: int, *, over_days: int = 300) -> None:
    """Copies of the part with its order, spread evenly over so many days."""
    allocation = part.allocations.select_related("line__order").get()
    rows = {model: list(model.objects.filter(part=part)) for model in (Sowing, Stay, Work)}
    shifts = [timedelta(days=number * over_days // copies) for number in range(copies)]
    orders = _made(
        Order,
        [
            _like(allocation.line.order, code=f"C{n}", submit_key=uuid.uuid4(), token=uuid.uuid4().hex)
            for n in range(copies)
        ],
    )
    lines = _made(
        OrderLine,
        [_like(allocation.line, shift, order=order) for shift, order in zip(shifts, orders, strict=True)],
    )
    batches = _made(Batch, [_like(part.batch, code=f"C{n}") for n in range(copies)])
    parts = _made(Part, [_like(part, shift, batch=batch) for shift, batch in zip(shifts, batches, strict=True)])
    _made(Allocation, [_like(allocation, part=new, line=line) for new, line in zip(parts, lines, strict=True)])
    sowings: dict[tuple[int, int], Sowing] = {}
    for row in rows[Sowing]:
        made = [
            _like(row, shift, part=new, code=f"C{row.pk}-{new.pk}")
            for shift, new in zip(shifts, parts, strict=True)
        ]
        sowings |= {(new.part_id, row.pk): new for new in _made(Sowing, made)}
    for model in (Stay, Work):
        _made(
            model,
            [
                _like(row, shift, part=new, sowing=sowings.get((new.pk, row.sowing_id or 0)))
                for row in rows[model]
                for shift, new in zip(shifts, parts, strict=True)
            ],
        )


def _like(row: Any, shift: timedelta = timedelta(0), **changes: Any) -> Any:
    new = copy.copy(row)
    new._state = copy.copy(row._state)
    new._state.fields_cache = {}
    new.pk, new._state.adding = None, True
    for name in DAYS.get(type(row), ()):
        day: date | None = getattr(row, name)
        setattr(new, name, day + shift if day else None)
    for name, value in changes.items():
        setattr(new, name, value)
    return new


def _made(model: Any, rows: list[Any]) -> list[Any]:
    return model.objects.bulk_create(rows, batch_size=2000)
