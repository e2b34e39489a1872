"""What was found once and may be asked for again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, TypeVar

Item = TypeVar("Item")


class Remembered(Generic[Item]):
    """An iterator that can be walked again: what it gave is kept, the rest is asked for when it is needed."""

    def __init__(self, source: Iterator[Item]) -> None:
        self._source, self._given = source, list[Item]()

    def __iter__(self) -> Iterator[Item]:
        yield from self._given
        for item in self._source:
            self._given.append(item)
            yield item
