"""Trays and benches: how many plants, trays and positions go where. Lengths are metres, areas m².

A cell count fixes neither the volume of a cell nor the footprint of its tray, so a tray always has its own outside
measures.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor

SQUARE_FOOT = 0.3048**2  # m², exact by definition of the foot
INCH = 0.0254  # m, exact

# Trays are made to a millimetre or so: one that is too long by less than this still goes in.
GIVE = 1e-6


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A tray, a bench or a floor, seen from above."""

    length: float
    width: float

    def __post_init__(self) -> None:
        if not (self.length > 0 and self.width > 0):
            raise ValueError(f"length and width must be more than zero, not {self.length:g} by {self.width:g} m")

    @property
    def area(self) -> float:
        return self.length * self.width

    @property
    def turned(self) -> Rectangle:
        return Rectangle(self.width, self.length)


def containers_needed(plants: int, plants_per_container: int) -> int:
    """Whole containers for so many plants; ValueError for negative plants or containers that hold none."""
    if plants < 0 or plants_per_container < 1:
        raise ValueError(f"{plants} plants cannot stand at {plants_per_container} to a container")
    return -(-plants // plants_per_container)


def cells_per_area(cells: int, tray: Rectangle) -> float:
    """Cells per m² of bench that is covered with such trays."""
    return cells / tray.area


def positions_on(bench: Rectangle, tray: Rectangle) -> int:
    """Trays that stand on a bench in straight rows, all turned the same way, whichever way holds more."""
    return max(_in_rows(bench, tray), _in_rows(bench, tray.turned))


def _in_rows(bench: Rectangle, tray: Rectangle) -> int:
    return floor(bench.length / tray.length + GIVE) * floor(bench.width / tray.width + GIVE)


def bench_area(benches: Iterable[Rectangle]) -> float:
    """The area of all benches together."""
    return sum(bench.area for bench in benches)


def share_of_floor(benches: Iterable[Rectangle], floor_plan: Rectangle) -> float:
    """The share of a house's floor that its benches cover; ValueError if they cover more than there is."""
    share = bench_area(benches) / floor_plan.area
    if share > 1 + GIVE:
        raise ValueError("the benches cover more than the floor")
    return share
