"""One place: what stands there tonight and on each night to come, against what it can hold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Prefetch

from .. import bridge
from ..models import Allocation, Place, Stay
from .works import label_of

EASE = 1e-6
NIGHTS = 28


@dataclass(frozen=True)
class Stand:
    """A stand on one night; `overstays` when it should have moved on and nobody recorded that it did."""

    stay: Stay
    label: str
    overstays: bool

    @property
    def arrives(self) -> bool:
        return not self.stay.entered


@dataclass(frozen=True)
class Crossing:
    """What comes or goes on one day, told once for each batch: its two sides stand apart, and move together."""

    label: str
    batch: str
    containers: int


def crossings(stands: Iterable[Stand]) -> list[Crossing]:
    trays: Counter[tuple[str, str]] = Counter()
    for stand in stands:
        trays[stand.label, stand.stay.part.batch.code] += stand.stay.containers
    return [Crossing(label, batch, count) for (label, batch), count in trays.items()]


@dataclass(frozen=True)
class Night:
    day: date
    load: float
    capacity: float
    stands: tuple[Stand, ...]
    comes: tuple[Stand, ...]  # first night here
    goes: tuple[Stand, ...]  # moved on during this day

    @property
    def coming(self) -> list[Crossing]:
        return crossings(self.comes)

    @property
    def going(self) -> list[Crossing]:
        return crossings(self.goes)

    @property
    def over(self) -> float:
        return max(0.0, self.load - self.capacity) if self.load > self.capacity + EASE else 0.0

    @property
    def free(self) -> float:
        return max(0.0, self.capacity - self.load)


@dataclass(frozen=True)
class Run:
    """Nights on which nothing comes, goes or changes after the first of them."""

    night: Night
    last: date


@dataclass(frozen=True)
class PlaceView:
    place: Place
    nights: tuple[Night, ...]

    @property
    def runs(self) -> list[Run]:
        runs: list[Run] = []
        for night in self.nights:
            if runs and not night.comes and not night.goes and _alike(night, runs[-1].night):
                runs[-1] = Run(runs[-1].night, night.day)
            else:
                runs.append(Run(night, night.day))
        return runs

    @property
    def tonight(self) -> Night:
        return self.nights[0]

    @property
    def highest(self) -> float:
        return max(max(night.load, night.capacity) for night in self.nights)


def _alike(one: Night, other: Night) -> bool:
    return abs(one.load - other.load) < EASE and one.capacity == other.capacity


def place_view(place: Place, *, today: date, nights: int = NIGHTS) -> PlaceView:
    last = today + timedelta(days=nights)
    rows = Stay.objects.filter(place=place, left=False, part__state__in=bridge.LIVING, first__lt=last)
    rows = rows.select_related(
        "place", "container", "sowing__variety", "part__batch__scion", "part__batch__rootstock"
    )
    allocations = Allocation.objects.select_related("line__order__customer")
    stays = list(
        rows.prefetch_related(Prefetch("part__allocations", queryset=allocations), "part__sowings").order_by(
            "first", "pk"
        )
    )
    measure = bridge.place_of(place)
    days = [today + timedelta(days=number) for number in range(nights)]
    return PlaceView(place, tuple(_night(day, stays, measure.capacity_on(day), today) for day in days))


def _night(day: date, stays: Iterable[Stay], capacity: float, today: date) -> Night:
    stays = list(stays)
    here = [stand for stay in stays if (stand := _stand(stay, day, today))]
    return Night(
        day=day,
        load=sum(stand.stay.load for stand in here),
        capacity=capacity,
        stands=tuple(here),
        comes=tuple(stand for stand in here if stand.stay.first == day),
        goes=tuple(
            Stand(stay, label_of(stay.part), False) for stay in stays if stay.leaves == day and stay.first < day
        ),
    )


def _stand(stay: Stay, day: date, today: date) -> Stand | None:
    if stay.first <= day < stay.leaves:
        return Stand(stay, label_of(stay.part), overstays=False)
    if stay.entered and stay.leaves <= today and day == today:
        return Stand(stay, label_of(stay.part), overstays=True)
    return None
