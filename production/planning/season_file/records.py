"""Groups of fields: a dataclass as a JSON object, a table of them named by key, and references into such a table.

A new field of a dataclass costs one line where its Record is made. What has a default in the dataclass may be left
out of a file, and is left out when it is written.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable
from dataclasses import MISSING, Field, dataclass, fields, replace
from typing import Any

from .shapes import NOTHING, Defs, Json, ListOf, Reading, Shape, Text, Writing, said

KEY = Text(80)

# What must hold between the fields of a record: gives (field, reason, mend) for each that does not.
Rule = Callable[[Any], Iterable[tuple[str, str, str]]]


@dataclass(frozen=True)
class As(Shape):
    """A field that goes by another name in the dataclass than in the file."""

    attribute: str
    of: Shape

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        return self.of.read(value, path, reading)

    def write(self, value: Any, writing: Writing) -> Json:
        return self.of.write(value, writing)

    def schema(self, defs: Defs) -> dict[str, Json]:
        return self.of.schema(defs)


class Record(Shape):
    """A dataclass, field by field, read in the order given here; `rule` says what must hold between them.

    Written from the last field to the first, so that tables come to know all that refers to them.
    """

    def __init__(self, make: Callable[..., Any], rule: Rule | None = None, /, **shapes: Shape) -> None:
        self.make, self.rule, self.shapes = make, rule, shapes
        self.attributes = {
            name: shape.attribute if isinstance(shape, As) else name for name, shape in shapes.items()
        }
        known: dict[str, Field] = {each.name: each for each in fields(make)}  # type: ignore[arg-type]
        self.defaults = {name: _default(known[attribute]) for name, attribute in self.attributes.items()}

    # --- reading ---

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        if not isinstance(value, dict):
            return reading.refuse(path, f"{said(value)} is no group of fields.", "Write it in curly brackets.")
        for name in value.keys() - self.shapes.keys():
            reading.refuse(_within(path, name), "There is no such field here.", self._meant(name))
        read = {name: self._field(name, value, path, reading) for name in self.shapes}
        if any(each is NOTHING for each in read.values()):
            return NOTHING
        made = self.make(**{self.attributes[name]: each for name, each in read.items()})
        wrong = list(self.rule(made)) if self.rule else []
        for name, reason, mend in wrong:
            reading.refuse(_within(path, name), reason, mend)
        return NOTHING if wrong else made

    def _field(self, name: str, value: dict[str, Json], path: str, reading: Reading) -> Any:
        if name in value:
            return self.shapes[name].read(value[name], _within(path, name), reading)
        default = self.defaults[name]
        if default is not MISSING:
            return default
        return reading.refuse(_within(path, name), "It is missing.", f"Add the field “{name}”.")

    def _meant(self, name: str) -> str:
        close = difflib.get_close_matches(name, self.shapes, 1)
        return f"Write “{close[0]}” if that is meant." if close else f"Known here: {', '.join(self.shapes)}."

    # --- writing ---

    def write(self, value: Any, writing: Writing) -> Json:
        written = {}
        for name in reversed(self.shapes):
            given = self._given(value, name)
            if self.defaults[name] is MISSING or given != self.defaults[name]:
                written[name] = self.shapes[name].write(given, writing)
        return dict(reversed(written.items()))

    def _given(self, value: Any, name: str) -> Any:
        return getattr(value, self.attributes[name])

    def schema(self, defs: Defs) -> dict[str, Json]:
        """A reference to the description, which all uses of the record share."""
        name = self.make.__name__.lstrip("_")
        if name not in defs:
            defs[name] = self.described(defs)
        return {"$ref": f"#/$defs/{name}"}

    def described(self, defs: Defs) -> dict[str, Json]:
        return {
            "type": "object",
            "properties": {name: shape.schema(defs) for name, shape in self.shapes.items()},
            "required": [name for name, default in self.defaults.items() if default is MISSING],
            "additionalProperties": False,
        }


class Group(Record):
    """A tuple, whose values get names in the file; none may be left out."""

    def __init__(self, **shapes: Shape) -> None:
        self.make, self.rule, self.shapes = _tuple, None, shapes
        self.attributes = {name: name for name in shapes}
        self.defaults = dict.fromkeys(shapes, MISSING)

    def _given(self, value: Any, name: str) -> Any:
        return value[list(self.shapes).index(name)]

    def schema(self, defs: Defs) -> dict[str, Json]:
        return self.described(defs)


def _tuple(**values: Any) -> tuple[Any, ...]:
    return tuple(values.values())


def _default(each: Field) -> Any:
    return each.default_factory() if each.default_factory is not MISSING else each.default


def _within(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


# --- tables ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Keyed(ListOf):
    """A list of groups of fields that each have a key of their own, which other parts of the file may name.

    `way` leads to the key within a group. Lists of one `table` share their keys.
    """

    table: str = ""
    way: tuple[str, ...] = ("key",)

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        known = reading.tables.setdefault(self.table, {})
        for number, each in enumerate(value if isinstance(value, list) else ()):
            key = _at(each, self.way)
            if key in known:
                where = f"{path}[{number}].{'.'.join(self.way)}"
                reading.refuse(where, f"{said(key)} is taken already.", "Give each its own key.")
            if isinstance(key, str):
                known[key] = NOTHING
        return super().read(value, path, reading)


def _at(value: Json, way: tuple[str, ...]) -> Json:
    for name in way:
        value = value.get(name) if isinstance(value, dict) else None
    return value if isinstance(value, str) else None


class Table(Shape):
    """Entries that are named once and referred to by key: read as a dict by key.

    An entry whose own key another has too gets a key made from it, and keeps its own as `code`.
    """

    def __init__(self, name: str, entry: Record) -> None:
        self.name, self.entry = name, entry
        self.rows = Keyed(_Row(entry, name), table=name)

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        rows = self.rows.read(value, path, reading)
        return NOTHING if rows is NOTHING else dict(rows)

    def write(self, value: Any, writing: Writing) -> Json:
        """All that was referred to, whatever `value` is."""
        return [self.rows.of.write((key, entry), writing) for entry, key in self._used(writing)]

    def _used(self, writing: Writing) -> list[tuple[Any, str]]:
        return list(writing.tables.get(self.name, {}).items())

    def schema(self, defs: Defs) -> dict[str, Json]:
        return self.rows.schema(defs)


@dataclass(frozen=True)
class _Row(Shape):
    """(key in the file, entry) of a table."""

    entry: Record
    table: str

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        code = value.get("code") if isinstance(value, dict) else None
        if code is not None:
            code = KEY.read(code, f"{path}.code", reading)
            value = {name: each for name, each in value.items() if name != "code"}
        entry = self.entry.read(value, path, reading)
        if entry is NOTHING or code is NOTHING:
            return NOTHING
        key, entry = entry.key, replace(entry, key=code) if code else entry
        reading.tables[self.table][key] = entry
        return key, entry

    def write(self, value: Any, writing: Writing) -> Json:
        key, entry = value
        written = self.entry.write(replace(entry, key=key), writing)
        return written if key == entry.key else {"key": key, "code": entry.key} | written

    def schema(self, defs: Defs) -> dict[str, Json]:
        schema = self.entry.described(defs)
        return schema | {"properties": schema["properties"] | {"code": KEY.schema(defs)}}


@dataclass(frozen=True)
class Ref(Shape):
    """The key of an entry of a table that stands above in the file."""

    table: str

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        key = KEY.read(value, path, reading)
        if key is NOTHING:
            return NOTHING
        if key not in reading.tables.get(self.table, {}):
            return reading.refuse(path, f"There is no {said(key)} in {self.table}.", f"Name one of {self.table}.")
        return reading.tables[self.table][key]

    def write(self, value: Any, writing: Writing) -> Json:
        return writing.key_of(self.table, value)

    def schema(self, defs: Defs) -> dict[str, Json]:
        return KEY.schema(defs)


@dataclass(frozen=True)
class Named(Ref):
    """The same, of a list whose groups keep their own keys: read as that key."""

    def read(self, value: Json, path: str, reading: Reading) -> Any:
        found = len(reading.faults)
        super().read(value, path, reading)
        return value if len(reading.faults) == found else NOTHING

    def write(self, value: Any, writing: Writing) -> Json:
        return value
