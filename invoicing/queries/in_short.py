"""Long lists that are known in short, of which only what is looked at is read whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Generic, TypeVar, overload

Short = TypeVar("Short")
Whole = TypeVar("Whole")

AT_ONCE = 200  # rows read whole together when the list is gone through


class InShort(Sequence[Whole], Generic[Short, Whole]):
    """`rows` are all of the list in short, as it is added up and sorted; `whole` reads a few of them, in order.

    A page's slice, or one row, is read whole when it is asked for; going through the list reads it in parts.
    """

    def __init__(self, rows: list[Short], whole: Callable[[list[Short]], list[Whole]]) -> None:
        self.rows = rows
        self._whole = whole

    def __len__(self) -> int:
        return len(self.rows)

    @overload
    def __getitem__(self, at: int) -> Whole: ...
    @overload
    def __getitem__(self, at: slice) -> list[Whole]: ...
    def __getitem__(self, at: int | slice) -> Whole | list[Whole]:
        if isinstance(at, slice):
            rows = self.rows[at]
            return self._whole(rows) if rows else []
        return self._whole([self.rows[at]])[0]

    def __iter__(self) -> Iterator[Whole]:
        for start in range(0, len(self.rows), AT_ONCE):
            yield from self[start : start + AT_ONCE]
