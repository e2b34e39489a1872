"""What a course is made of: legs, the sides before the graft, and the whole of a part."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .terms import Container, Material, Nights, Place, Sizing, Stage, Subject, Wish, WorkRule


@dataclass(frozen=True, slots=True)
class Leg:
    """A stage with the plants that enter it.

    `room` is what a plant takes here against what its container says (topped plants may take more).
    """

    stage: Stage
    subject: Subject
    nights: Nights
    container: Container
    plants: int
    containers: int
    room: float = 1.0
    sowing: int = 1  # before the graft: which of the sowings of its side

    @property
    def key(self) -> tuple[Subject, str, int]:
        return self.subject, self.stage.key, self.sowing

    def unit_in(self, place: Place) -> float:
        """What one container takes of the place, in the place's measure."""
        return self.container.load_in(place) * self.room

    def places(self, places: Sequence[Place]) -> list[Place]:
        """Where these plants may stand, in the order in which the protocol names the kinds."""
        kinds = self.stage.place_kinds
        fitting = [place for place in places if place.kinds & set(kinds)]
        return sorted(fitting, key=lambda place: min(kinds.index(kind) for kind in place.kinds if kind in kinds))


@dataclass(frozen=True, slots=True)
class SideCourse:
    """One sowing of a variety, up to the graft (or, of a plain line, to the end of raising)."""

    subject: Subject
    material: Material
    seeds: int
    germinating: Leg
    raising: Leg
    holding: Leg | None = None  # in the cold, where the clock stands still
    apart: int = 0  # days after the sowing before it, which is the side before it in a course; 0: a first one

    @property
    def legs(self) -> tuple[Leg, ...]:
        return (self.germinating, self.raising, self.holding) if self.holding else (self.germinating, self.raising)

    @property
    def number(self) -> int:
        """Which of the sowings of its side, from 1."""
        return self.germinating.sowing

    @property
    def longest_hold(self) -> int:
        return self.holding.nights.longest if self.holding else 0


@dataclass(frozen=True, slots=True)
class Course:
    """All stages of one part: its sides up to the start, its legs from there to ready, and the wait for pickup.

    The *start* is the grafting day; of a plain line the day on which raising ends; of room the first day.
    """

    wish: Wish
    plants: int
    sizing: Sizing
    sides: tuple[SideCourse, ...]
    legs: tuple[Leg, ...]
    waiting: Leg | None
    handing_over: tuple[WorkRule, ...] = ()

    @property
    def keeping(self) -> int:
        return self.waiting.nights.longest if self.waiting else 0
