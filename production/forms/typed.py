"""The desk's form as it was posted, changed by what was pressed or named: plain values in, plain values out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django.http import QueryDict

from orders.models import Nursery

from ..queries import past
from .desk import MOST_LINES, LineForm

MOST_REASON = 200  # characters of a reason to promise over a conflict
DIGITS = 4  # of a number of lines; a number that is longer may take for ever to count to
TAKEN = {"take": "pickup", "method": "method", "fewer": "quantity"}  # ways out that only change a field


def changed(posted: QueryDict, action: str, detail: str, *, today: date, nursery: Nursery) -> QueryDict:
    """The posted values after a button that only changes the form: a line more, another day, an old order."""
    data = posted.copy()
    count = _lines_in(data)
    if count is None:
        return data  # the formset says what is wrong
    if action == "add" and count < MOST_LINES:
        _copy_line(data, count - 1, count)
        data["lines-TOTAL_FORMS"] = str(count + 1)
    elif action == "remove" and count > 1 and len(detail) <= DIGITS and detail.isdecimal():
        for number in range(int(detail), count - 1):
            _copy_line(data, number + 1, number)
        _clear_line(data, count - 1)
        data["lines-TOTAL_FORMS"] = str(count - 1)
    elif action == "again":
        _ask_again(data, count, detail, today, nursery)
    elif action == "more":
        _give_reason(data, detail)
    elif action in TAKEN:
        line, _slash, value = detail.partition("/")
        data[f"lines-{line}-{TAKEN[action]}"] = value
    return data


def focus_after(action: str, data: Mapping[str, Any]) -> str:
    """The field in which one goes on typing after such a button."""
    last = (_lines_in(data) or 1) - 1
    return {"add": f"lines-{last}-quantity", "remove": f"lines-{last}-quantity", "again": "lines-0-quantity"}.get(
        action, ""
    )


def as_typed(data: QueryDict, number: int) -> LineForm:
    """The fields of one line with what stands in them, not yet judged: nothing in them is wrong so far."""
    start = f"lines-{number}-"
    values = {key.removeprefix(start): value for key, value in data.items() if key.startswith(start)}
    return LineForm(initial=values, prefix=start.removesuffix("-"))


def fill_as_before(data: QueryDict) -> list[int]:
    """Where a scion's field names a whole combination, fill the line as it was ordered last; the lines filled."""
    filled = []
    for number in range(_lines_in(data) or 0):
        field = f"lines-{number}-scion"
        line = past.line_named(_typed(data, field), _typed(data, "customer"))
        if line and line.scion and line.rootstock:
            names = {"scion": line.scion.name, "rootstock": line.rootstock.name}
            _fill_line(data, number, {**names, "kind": line.kind, **past.manner(line)})
            filled.append(number)
    return filled


def _lines_in(data: Mapping[str, Any]) -> int | None:
    """How many lines the form says it has; None where it says none, or more than it may have."""
    said = str(data.get("lines-TOTAL_FORMS", ""))
    count = int(said) if len(said) <= DIGITS and said.isdecimal() else MOST_LINES + 1
    return count if count <= MOST_LINES else None


def _typed(data: Mapping[str, Any], name: str) -> str:
    """As it may be looked up: a NUL, which the form refuses, is none of it."""
    return str(data.get(name, "")).replace("\0", "")


def _ask_again(data: QueryDict, count: int, code: str, today: date, nursery: Nursery) -> None:
    earlier = past.earlier_order(code.replace("\0", ""), today)
    if earlier is None:
        return
    for number in range(count):
        _clear_line(data, number)
    lines = earlier.lines[:MOST_LINES]
    for number, line in enumerate(lines):
        _fill_line(data, number, past.asked_again(line, today, nursery))
    data["lines-TOTAL_FORMS"] = str(len(lines))


def _give_reason(data: QueryDict, arranged: str) -> None:
    """What the grower will arrange is the reason to promise over the conflict, beside any that stands there."""
    reasons = [reason for reason in (data.get("over_conflict", "").strip(), arranged) if reason]
    data["over_conflict"] = "; ".join(dict.fromkeys(reasons))[:MOST_REASON]


def _fill_line(data: QueryDict, number: int, values: Mapping[str, object]) -> None:
    for name, value in values.items():
        data[f"lines-{number}-{name}"] = str(value)


def _clear_line(data: QueryDict, number: int) -> None:
    for key in [key for key in data if key.startswith(f"lines-{number}-")]:
        del data[key]


def _copy_line(data: QueryDict, source: int, target: int) -> None:
    """What was typed in one line becomes what stands in another: a further line is often nearly the same."""
    start = f"lines-{source}-"
    _clear_line(data, target)
    for key in [key for key in data if key.startswith(start)]:
        data.setlist(f"lines-{target}-{key.removeprefix(start)}", data.getlist(key))
