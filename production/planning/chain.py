"""From seed to ready plant: the chance that so many seeds and grafts are enough for the plants wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from production.planning import mesh
from production.planning.chances import Array
from production.planning.terms import Rate


@dataclass(frozen=True, slots=True)
class Chain:
    """Between seed and ready plant: usable stems of two sides, then the share taken and kept of the pairs."""

    wanted: int
    rootstock: Rate
    scion: Rate
    after: Rate

    def chance(self, grafts: int, rootstock_seeds: int, scion_seeds: int) -> float:
        """P(the plants wanted are ready): the graft that makes them up must be one of those that can be made."""
        if min(grafts, rootstock_seeds, scion_seeds) < self.wanted:
            return 0.0
        cells, finishing = self._cells(grafts, rootstock_seeds, scion_seeds)
        rootstocks = mesh.tail(rootstock_seeds, self.rootstock).at(cells.nodes)
        scions = mesh.tail(scion_seeds, self.scion).at(cells.nodes)
        return min(float((finishing * rootstocks * scions).sum()), 1.0)

    def expected(self, grafts: int, rootstock_seeds: int, scion_seeds: int) -> float:
        """Plants to be expected: the share taken and kept of the mean of the grafts that can be made."""
        marks = self._marks(rootstock_seeds, scion_seeds)
        cells = mesh.Cells.over(1, grafts, np.concatenate([*marks, mesh.ENDS, grafts + 1 - mesh.ENDS]))
        both = mesh.tail(rootstock_seeds, self.rootstock).at(cells.nodes)
        both = both * mesh.tail(scion_seeds, self.scion).at(cells.nodes)
        return self.after.mean * float((both * cells.weights).sum())

    def chances(self, most: int, rootstock_seeds: list[int], scion_seeds: list[int]) -> tuple[Array, Array]:
        """P(enough) by [rootstock seeds, scion seeds, grafts below each edge but the first], and the edges."""
        middle = len(rootstock_seeds) // 2
        cells, finishing = self._cells(most, rootstock_seeds[middle], scion_seeds[middle])
        at = cells.nodes[:, 1]
        rootstocks = np.array([mesh.tail(seeds, self.rootstock).at(at) for seeds in rootstock_seeds])
        scions = np.array([mesh.tail(seeds, self.scion).at(at) for seeds in scion_seeds])
        by_cell = (rootstocks * finishing.sum(axis=1))[:, None, :] * scions[None, :, :]
        return np.asarray(by_cell.cumsum(axis=2)), cells.edges

    def grafts(self, level: float, rootstock_seeds: int, scion_seeds: int) -> int | None:
        """The fewest grafts that reach the level with so many seeds; None if none do."""
        low, high = self.wanted, min(rootstock_seeds, scion_seeds)
        if self.chance(high, rootstock_seeds, scion_seeds) < level:
            return None
        while low < high:
            half = (low + high) // 2
            enough = self.chance(half, rootstock_seeds, scion_seeds) >= level
            low, high = (low, half) if enough else (half + 1, high)
        return high

    def _cells(self, grafts: int, rootstock_seeds: int, scion_seeds: int) -> tuple[mesh.Cells, Array]:
        marks = self._marks(rootstock_seeds, scion_seeds)
        return mesh.finishing_cells(self.wanted, self.after, grafts, marks)

    def _marks(self, rootstock_seeds: int, scion_seeds: int) -> list[npt.NDArray[np.int64]]:
        sides = ((rootstock_seeds, self.rootstock), (scion_seeds, self.scion))
        return [mesh.marks(seeds * rate.mean, mesh.spread(seeds, rate)) for seeds, rate in sides]
