"""How terms name a line of an order: 'line:31'."""

from __future__ import annotations

from collections.abc import Iterable

LINE = "line:"


def key_of(line: int) -> str:
    return f"{LINE}{line}"


def line_of(key: str) -> int:
    """The line that a wish, a move or an owner names."""
    return int(key.removeprefix(LINE))


def lines_named(keys: Iterable[str]) -> list[int]:
    """The lines among these; an owner may be something else."""
    return [line_of(key) for key in keys if key.startswith(LINE)]
