"""JSON as text: read strictly, written so that a person can read it and two files can be compared line by line."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, NoReturn

from .shapes import FileFault, Json

WIDTH = 110


class BadFile(ValueError):
    """A file that is not read at all, with everything that is wrong in it."""

    def __init__(self, faults: list[FileFault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(map(str, faults)))


def parsed(text: str) -> Json:
    """The value that a JSON text (RFC 8259) holds. `BadFile` for anything else, and for a name given twice."""
    try:
        value = json.loads(text, object_pairs_hook=_named_once, parse_constant=_no_number)
    except json.JSONDecodeError as wrong:
        where = f"line {wrong.lineno}, column {wrong.colno}"
        raise BadFile([FileFault(where, f"This is no JSON: {wrong.msg}.", "Mend the file there.")]) from None
    except RecursionError:
        raise BadFile([too_deep()]) from None
    except ValueError as wrong:
        raise BadFile([FileFault("", f"{wrong}", "Mend the file there.")]) from None
    return value


def too_deep() -> FileFault:
    return FileFault("", "It has groups within groups without end.", "Write it as the format says.")


def _named_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    named: dict[str, Any] = {}
    for name, value in pairs:
        if name in named:
            raise ValueError(f"The name “{name}” stands twice in one group of fields.")
        named[name] = value
    return named


def _no_number(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number that JSON knows.")


def readable(value: Json) -> str:
    """JSON text: what fits on a line stands on one, all else is broken down with two spaces a step."""
    return "".join(_lines(value, "", "")) + "\n"


def _lines(value: Json, indent: str, before: str) -> Iterator[str]:
    flat = json.dumps(value, ensure_ascii=False, allow_nan=False)
    several = isinstance(value, list | dict) and bool(value)
    if not several or (len(indent) + len(before) + len(flat) <= WIDTH and not _holds_groups(value)):
        yield f"{before}{flat}"
        return
    opening, closing = "[]" if isinstance(value, list) else "{}"
    deeper = f"{indent}  "
    yield f"{before}{opening}\n"
    named = [("", each) for each in value] if isinstance(value, list) else list(value.items())
    for number, (name, each) in enumerate(named, start=1):
        label = f"{json.dumps(name, ensure_ascii=False)}: " if isinstance(value, dict) else ""
        yield deeper
        yield from _lines(each, deeper, label)
        yield "\n" if number == len(named) else ",\n"
    yield f"{indent}{closing}"


def _holds_groups(value: Json) -> bool:
    """Lists of several groups are broken down even where they would fit."""
    return isinstance(value, list) and len(value) > 1 and any(isinstance(each, dict) for each in value)
