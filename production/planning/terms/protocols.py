"""Biology, all of it the grower's own data: rates, clocks, stages and what is done in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from .nursery import Container, Place
from .words import PartOfDay


@dataclass(frozen=True, slots=True)
class Rate:
    """An uncertain share: Beta(mean·weight, (1−mean)·weight). `weight` is in plants' worth of evidence."""

    mean: float
    weight: float = 60.0


@dataclass(frozen=True, slots=True)
class Clock:
    """The thermal clock of one variety.

    Emergence: days = emergence_sum / (T − emergence_base), valid up to emergence_ceiling. Growth from emergence
    on: the stem is graftable from `graftable_first` to `graftable_last` °C·d above growth_base, best at
    `graftable_aim`; degrees above growth_ceiling count as growth_ceiling.
    """

    emergence_sum: float
    emergence_base: float
    emergence_ceiling: float
    growth_base: float
    growth_ceiling: float
    graftable_first: float
    graftable_aim: float
    graftable_last: float


@dataclass(frozen=True, slots=True)
class Material:
    """One variety as it is used on one line: its clock, its rates, and when its seed is in hand."""

    key: str
    name: str
    clock: Clock
    emerged: Rate
    usable: Rate
    seed_on_hand: date | None = None  # None: in hand already; else expected by that day
    seed_price: float | None = (
        None  # of one seed, in the coin of `Prices`; 0 for seed of the customer; None: unknown
    )


@dataclass(frozen=True, slots=True)
class Nights:
    shortest: int
    usual: int
    longest: int


@dataclass(frozen=True, slots=True)
class WorkRule:
    """Work that a stage asks for.

    It falls `after` nights after the plants enter the stage; with `at_end`, on the day they leave it. `hands`
    lists (skill, plants per person-hour); work for two lists both. Care may fall on closed days.
    """

    kind: str
    hands: tuple[tuple[str, float], ...]
    part: PartOfDay = "day"
    after: int = 0
    at_end: bool = False
    care: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Stage:
    """A run of nights in one kind of place and container. `container` None means the line's own pot or tray.

    A stage whose usual nights are 0 is kept for need: it is left out where the nursery has no place for it.
    """

    key: str
    kind: str
    name: str
    place_kinds: tuple[str, ...]
    container: Container | None
    nights: Nights
    works: tuple[WorkRule, ...] = ()

    def is_left_out(self, places: Sequence[Place]) -> bool:
        """Whether plants do without this stage, since no place can hold them for it."""
        kinds = set(self.place_kinds)
        return not self.nights.usual and not any(place.capacity > 0 and place.kinds & kinds for place in places)


@dataclass(frozen=True, slots=True)
class Recipe:
    """A version of a protocol: the stages of a crop grown and grafted by one method.

    The germinating and raising stages of each side have no nights of their own: the clocks give them (their
    `nights` bound them only). Cold holding may follow, of 0 nights usually, where the clock stands still. `plain`
    recipes have empty `rootstock`/`scion` and grow `plain` stages instead.
    """

    key: str
    name: str
    method: str  # splice, side, one_cotyledon, hole_insertion, plain
    rootstock: tuple[Stage, ...]  # germinating, raising; cold holding, if any
    scion: tuple[Stage, ...]
    union: tuple[Stage, ...]  # healing … growing on; for a plain recipe: all that follows raising
    plain: tuple[Stage, ...] = ()  # germinating, raising, of a plain line
    topping: Nights = Nights(7, 8, 9)  # nights added to growing on for two leaders by topping
    topped_room: float = 1.0  # room of a topped plant against a single one, on growing on
    take: Rate = Rate(0.9)
    kept: Rate = Rate(0.97)  # from take to ready
    keeping: int = 14  # longest nights that ready plants may stand
    rootstock_sowings: int = 1  # in succession, so that stems of several ages are there to match
    scion_sowings: int = 1
    sown_apart: int = 0  # days between two sowings of a side
