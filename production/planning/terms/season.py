"""What is asked, what is taken already, and the season that both belong to."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Literal

from .nursery import Calendar, Container, Person, Place, Prices
from .protocols import Material, Recipe
from .words import LineKind, PartOfDay


@dataclass(frozen=True, slots=True)
class RoomWish:
    place_kind: str
    container: Container
    containers: int
    nights: int


@dataclass(frozen=True, slots=True)
class Wish:
    """One order line as the planner sees it. A plain line has its variety in `scion` and no rootstock."""

    key: str
    label: str  # 'Order 31, line 2'
    kind: LineKind
    quantity: int
    pickup: date
    earlier: int = 0  # latitude, days
    later: int = 0
    collection: int = 1  # days on which the customer may come, from the pickup on; room is held for them
    leaders: Literal[1, 2] = 1
    topped: bool = False  # two leaders by topping; two from a side shoot costs the nursery nothing
    recipe: Recipe | None = None
    rootstock: Material | None = None
    scion: Material | None = None
    container: Container | None = None  # pot or tray in which the plants are handed over
    room: RoomWish | None = None
    level: float = 0.95  # service level
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class RoomClaim:
    """So much of a place (in its measure) for a run of nights, by an owner whose label can be shown."""

    owner: str
    label: str
    place: str
    first: date
    nights: int
    load: float

    @property
    def leaves(self) -> date:
        return self.first + timedelta(days=self.nights)


@dataclass(frozen=True, slots=True)
class HandsClaim:
    """Hours of one piece of work, by skill: to be done in that part of the day; `day`: at any time of it."""

    owner: str
    label: str
    day: date
    hours: tuple[tuple[str, float], ...]
    care: bool = False
    part: PartOfDay = "day"


@dataclass(frozen=True, slots=True)
class Season:
    """All that a promise is judged against."""

    today: date
    calendar: Calendar
    places: tuple[Place, ...]
    people: tuple[Person, ...]
    room: tuple[RoomClaim, ...] = ()
    hands: tuple[HandsClaim, ...] = ()
    prices: Prices = field(default_factory=Prices)

    def place(self, key: str) -> Place:
        return next(place for place in self.places if place.key == key)

    def without(self, owners: frozenset[str]) -> Season:
        """The season as if these owners had taken nothing: for moving what is already placed."""
        if not owners:
            return self
        return replace(
            self,
            room=tuple(claim for claim in self.room if claim.owner not in owners),
            hands=tuple(claim for claim in self.hands if claim.owner not in owners),
        )
