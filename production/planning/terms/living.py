"""Plants that already live: what was recorded of them, and what is left to do."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from .plans import PartPlan
from .words import Subject


@dataclass(frozen=True, slots=True)
class SowingFacts:
    """What has been recorded of one sowing. None: not yet."""

    subject: Subject
    sown: date | None = None
    seeds: int | None = None
    emerged: int | None = None
    emerged_on: date | None = None
    usable: int | None = None
    number: int = 1  # among the sowings of its side


@dataclass(frozen=True, slots=True)
class Entered:
    """Plants really came to a stage on a day: before the graft, those of one sowing."""

    stage: str
    day: date
    sowing: int = 1


@dataclass(frozen=True, slots=True)
class Done:
    """Work that needs no more planning, since it was done or fell away."""

    kind: str
    subject: Subject
    stage: str
    sowing: int = 1


@dataclass(frozen=True, slots=True)
class PartFacts:
    """What has been recorded of one part."""

    sowings: tuple[SowingFacts, ...] = ()
    grafted_on: date | None = None
    grafted: int | None = None
    taken: int | None = None
    lost_after_take: int = 0
    ready: int | None = None
    ready_on: date | None = None
    entered: tuple[Entered, ...] = ()
    done: tuple[Done, ...] = ()


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a part is now expected to deliver, after the counts so far."""

    expected: float
    low: int  # tenth percentile
    high: int  # ninetieth
    chance: float  # that the plants wanted can be handed over


@dataclass(frozen=True, slots=True)
class Rolled:
    """A part planned again from what has happened: the past as it was, the rest moved with it."""

    part: PartPlan
    outlook: Outlook
    late_by: int = 0  # days after the last pickup day that was promised; 0: kept
    troubles: tuple[str, ...] = field(default=())  # e.g. 'the scion will be past grafting'
