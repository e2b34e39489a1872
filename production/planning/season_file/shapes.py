"""Shapes: how one kind of value is read from JSON, written to it, and described by the published schema.

A value is read whole or not at all: what is wrong is noted with its path, and `NOTHING` stands in its place, so
that the rest is still looked at and every fault is told at once.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from math import isfinite
from typing import Any

Json = Any  # what the json module gives: dict, list, str, int, float, bool, None

Defs = dict[str, dict[str, Json]]  # shared parts of a schema, by name

NOTHING: Any = object()  # stands for what could not be read
DAY = re.compile(r"2[0-9]{3}-[0-9]{2}-[0-9]{2}")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


@dataclass(frozen=True, slots=True)
class FileFault:
    """What is wrong in a file: where ('lines[3].pickup'), why, and how to mend it."""

    path: str
    reason: str
    mend: str

    def __str__(self) -> str:
        return f"{self.path or 'the file'}: {self.reason} {self.mend}"


@dataclass
class Reading:
    """One file being read: the faults found so far, and what later parts of the file must agree with.

    `tables` holds entries by their keys, NOTHING for those that are named and could not be read.
    """

    faults: list[FileFault] = field(default_factory=list)
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)
    today: date | None = None
    skills: set[str] = field(default_factory=set)

    def refuse(self, path: str, reason: str, mend: str) -> Any:
        self.faults.append(FileFault(path, reason, mend))
        return NOTHING


@dataclass
class Writing:
    """One file being written: by table, what was referred to so far and the keys that it got."""

    tables: dict[str, dict[Any, str]] = field(default_factory=dict)

    def key_of(self, table: str, entry: Any) -> str:
        """The entry's own key, or, where another entry has it already, one made from it."""
        keys = self.tables.setdefault(table, {})
        if entry not in keys:
            taken, number, key = set(keys.values()), 1, str(entry.key)
            while key in taken:
                number += 1
                key = f"{entry.key}~{number}"
            keys[entry] = key
        return keys[entry]


class Shape:
    """A kind of value. `read` notes what is wrong and gives NOTHING; `write` takes what `read` gives.

    `schema` describes the JSON value; what is used in several places it puts into `defs` and refers to.
    """

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        raise NotImplementedError

    def write(self, value: Any, writing: Writing) -> Json:
        return value

    def schema(self, defs: Defs) -> dict[str, Json]:
        raise NotImplementedError


# --- single values -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Text(Shape):
    """Words; at least one character, unless `empty`."""

    most: int = 200
    empty: bool = False

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if not isinstance(value, str):
            return reading.refuse(path, f"{said(value)} is no text.", "Write it in quotation marks.")
        if not value and not self.empty:
            return reading.refuse(path, "There is nothing in it.", "Write at least one character.")
        if len(value) > self.most:
            return reading.refuse(path, f"It has {len(value)} characters.", f"Keep to {self.most} at the most.")
        if re.search("[\x00\ud800-\udfff]", value):
            return reading.refuse(path, "It holds a character that no text can have.", "Take that character out.")
        return value

    def schema(self, defs: Defs) -> dict[str, Json]:
        return {"type": "string", "maxLength": self.most} | ({} if self.empty else {"minLength": 1})


@dataclass(frozen=True)
class OneOf(Shape):
    """One of a few words or numbers."""

    choices: tuple[Any, ...]

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if isinstance(value, bool) or value not in self.choices:
            return reading.refuse(path, f"{said(value)} is not known here.", f"Choose one of: {self._listed()}.")
        return self.choices[self.choices.index(value)]

    def _listed(self) -> str:
        return ", ".join(map(str, self.choices))

    def schema(self, defs: Defs) -> dict[str, Json]:
        return {"enum": list(self.choices)}


@dataclass(frozen=True)
class YesNo(Shape):
    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if not isinstance(value, bool):
            return reading.refuse(path, f"{said(value)} is neither true nor false.", "Write true or false.")
        return value

    def schema(self, defs: Defs) -> dict[str, Json]:
        return {"type": "boolean"}


@dataclass(frozen=True)
class Number(Shape):
    """A number from `least` (or, with `above`, more than that) to `most`; `whole` numbers without a fraction."""

    least: float = 0
    most: float = 1_000_000
    above: bool = False
    whole: bool = False

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
            return reading.refuse(path, f"{said(value)} is no number.", f"Write {self._range()}.")
        if self.whole and value != int(value):
            return reading.refuse(path, f"{said(value)} is no whole number.", f"Write {self._range()}.")
        if value < self.least or value > self.most or (self.above and value == self.least):
            return reading.refuse(path, f"{said(value)} is out of range.", f"Write {self._range()}.")
        return int(value) if self.whole else float(value)

    def write(self, value: Any, writing: Writing) -> Json:
        return int(value) if value == int(value) else value

    def _range(self) -> str:
        kind = "a whole number" if self.whole else "a number"
        return f"{kind} {'above' if self.above else 'from'} {self.least:g} {'up ' * self.above}to {self.most:.10g}"

    def schema(self, defs: Defs) -> dict[str, Json]:
        lower = "exclusiveMinimum" if self.above else "minimum"
        return {"type": "integer" if self.whole else "number", lower: self.least, "maximum": self.most}


def Whole(least: int = 0, most: int = 1_000_000) -> Number:
    return Number(least, most, whole=True)


def _is_finite(value: float) -> bool:
    return isinstance(value, int) or isfinite(value)


@dataclass(frozen=True)
class Day(Shape):
    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if isinstance(value, str) and DAY.fullmatch(value):
            try:
                return date.fromisoformat(value)
            except ValueError:
                return reading.refuse(path, f"There is no {value}.", "Write a day that the calendar has.")
        return reading.refuse(path, f"{said(value)} is no day.", "Write it as year-month-day: 2027-04-21.")

    def write(self, value: Any, writing: Writing) -> Json:
        return value.isoformat()

    def schema(self, defs: Defs) -> dict[str, Json]:
        return {"type": "string", "format": "date", "pattern": f"^{DAY.pattern}$"}


@dataclass(frozen=True)
class Maybe(Shape):
    """A value, or null for `absent`."""

    of: Shape
    absent: Any = None

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        return self.absent if value is None else self.of.read(value, path, reading)

    def write(self, value: Any, writing: Writing) -> Json:
        return None if value == self.absent else self.of.write(value, writing)

    def schema(self, defs: Defs) -> dict[str, Json]:
        return {"anyOf": [{"type": "null"}, self.of.schema(defs)]}


# --- several -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class ListOf(Shape):
    """A list, read as a tuple; of exactly `size` values where one is given."""

    of: Shape
    most: int = 1_000_000
    size: int | None = None

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if not isinstance(value, list):
            return reading.refuse(path, f"{said(value)} is no list.", "Write it in square brackets.")
        if self.size is not None and len(value) != self.size:
            return reading.refuse(path, f"It lists {len(value)}.", f"List exactly {self.size}.")
        if len(value) > self.most:
            return reading.refuse(path, f"It lists {len(value)}.", f"List {self.most} at the most.")
        read = [self.of.read(each, f"{path}[{number}]", reading) for number, each in enumerate(value)]
        return NOTHING if any(each is NOTHING for each in read) else self.gather(read, path, reading)

    def gather(self, read: Sequence[Any], path: str, reading: Reading) -> Any:
        return tuple(read)

    def write(self, value: Any, writing: Writing) -> Json:
        return [self.of.write(each, writing) for each in value]

    def schema(self, defs: Defs) -> dict[str, Json]:
        size = {"minItems": self.size, "maxItems": self.size} if self.size else {"maxItems": self.most}
        return {"type": "array", "items": self.of.schema(defs), **size}


@dataclass(frozen=True)
class SetOf(ListOf):
    """A list in which nothing comes twice and order means nothing; written in order."""

    def gather(self, read: Sequence[Any], path: str, reading: Reading) -> Any:
        twice = sorted({each for each in read if read.count(each) > 1})
        if twice:
            return reading.refuse(path, f"{twice[0]} is listed twice.", "List each once.")
        return frozenset(read)

    def write(self, value: Any, writing: Writing) -> Json:
        return [self.of.write(each, writing) for each in sorted(value)]

    def schema(self, defs: Defs) -> dict[str, Json]:
        return super().schema(defs) | {"uniqueItems": True}


@dataclass(frozen=True)
class Weekday(OneOf):
    """A day of the week by its name; in memory Monday is 0."""

    choices: tuple[Any, ...] = WEEKDAYS

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        name = super().read(value, path, reading)
        return name if name is NOTHING else WEEKDAYS.index(name)

    def write(self, value: Any, writing: Writing) -> Json:
        return WEEKDAYS[value]


def said(value: Json) -> str:
    """A value as a fault names it, cut short."""
    if isinstance(value, list | dict):
        return "a list" if isinstance(value, list) else "a group of fields"
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}…"
