"""How seed is sown and bought: whole trays, whole packs."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Supply:
    """Seed of one side: sown in whole trays of `cells` (1: any number), bought in packs of `pack` seeds."""

    cells: int = 1
    pack: int = 1

    def __post_init__(self) -> None:
        if self.cells < 1 or self.pack < 1:
            raise ValueError(f"a tray has one cell at least and a pack one seed, not {self.cells} and {self.pack}")


LOOSE = Supply()


@dataclass(frozen=True, slots=True)
class Filled:
    """Seeds sown, the trays they fill, the packs to open, and the seeds of them that are left."""

    seeds: int
    trays: int
    packs: int
    left: int


def filled(seeds: int, supply: Supply) -> Filled:
    """So many seeds rounded up to whole trays, and the packs that hold them."""
    trays = -(-seeds // supply.cells)
    packs = -(-trays * supply.cells // supply.pack)
    return Filled(trays * supply.cells, trays, packs, packs * supply.pack - trays * supply.cells)
