"""JSON as text: read strictly, written so that a person can read it and two files can be compared line by line."""

from __future__ import annotations

import json
from functools import lru_cache
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
    texts: list[str] = []
    _write(value, "\n", "", texts)
    texts.append("\n")
    return "".join(texts)


def _write(value: Json, line: str, before: str, texts: list[str]) -> None:
    """`line` begins a line at this depth; `before` stands on it already."""
    if not value or not isinstance(value, list | dict):
        texts.append(before + _plain(value))
        return
    flat = None if _holds_groups(value) else _flat(value, WIDTH + 1 - len(line) - len(before))
    if flat is not None:
        texts.append(before + flat)
        return
    opening, closing = "[]" if isinstance(value, list) else "{}"
    deeper = f"{line}  "
    texts.append(before + opening)
    named = value.items() if isinstance(value, dict) else ((None, each) for each in value)
    for name, each in named:
        texts.append(deeper)
        _write(each, deeper, "" if name is None else f"{_plain(name)}: ", texts)
        texts.append(",")
    texts[-1] = line + closing


def _flat(value: Json, room: int) -> str | None:
    """Its text on one line; None as soon as it is longer than `room`, so that no group of thousands is tried."""
    if not value or not isinstance(value, list | dict):
        text = _plain(value)
        return text if len(text) <= room else None
    parts = []
    for name, each in value.items() if isinstance(value, dict) else ((None, each) for each in value):
        label = "" if name is None else f"{_plain(name)}: "
        said = _flat(each, room - 2 - len(label))
        if said is None:
            return None
        parts.append(label + said)
        room -= len(parts[-1]) + 2  # and the comma after it; the last has none, but there are the brackets
    inside = ", ".join(parts)
    return f"[{inside}]" if isinstance(value, list) else f"{{{inside}}}"


@lru_cache(maxsize=100_000, typed=True)  # a season says the same names, days and numbers over and over
def _one(value: Json) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _plain(value: Json) -> str:
    """A value that holds no others."""
    return (
        _one(value) if value or not isinstance(value, list | dict) else "[]" if isinstance(value, list) else "{}"
    )


def _holds_groups(value: Json) -> bool:
    """Lists of several groups are broken down even where they would fit."""
    return isinstance(value, list) and len(value) > 1 and any(isinstance(each, dict) for each in value)
