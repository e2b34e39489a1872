"""One day of the season: what stands where that night, what is done, which batches come and go. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Case, QuerySet, Value, When

from ..models import Part, StageWork, Stay, Work
from ..planning.load import EASE, Load
from ..queries.works import label_of
from ..words import hands_words
from .batches import stays_within, works_within
from .grid import place_at, telling
from .scope import Scope
from .standing import amount_words, named

STANDS = 8  # named of each place, the largest
WORKS = 60
CROSSINGS = 40  # named of those that come, and of those that go
IN_ITS_TURN = Case(*(When(part_of_day=part, then=Value(n)) for n, part in enumerate(StageWork.PartOfDay.values)))


@dataclass(frozen=True, slots=True)
class Stand:
    """What one part has in one place, its scions and rootstocks taken together."""

    stay: Stay
    part: Part
    label: str
    amount: str


@dataclass(frozen=True, slots=True)
class Room:
    """A place on one night; `more` stands are not named, `all` opens them."""

    name: str
    load: str
    capacity: str
    over: str
    stands: tuple[Stand, ...]
    more: int
    all: str


@dataclass(frozen=True, slots=True)
class Hands:
    """A set of skills on one day."""

    skills: str
    asked: str
    there: str
    over: bool


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of work, and who is to do it (or did)."""

    work: Work
    part: Part
    label: str
    skills: str
    hours: float


@dataclass(frozen=True, slots=True)
class DayView:
    rooms: tuple[Room, ...]
    hands: tuple[Hands, ...]
    jobs: tuple[Job, ...]
    more_jobs: int
    comes: tuple[Stand, ...]
    more_comes: int
    goes: tuple[Stand, ...]
    more_goes: int
    open: bool


def day_view(load: Load, scope: Scope) -> DayView:
    """What the day `scope.first` looks like; in the past as it was recorded."""
    stays = stays_within(scope)
    tonight = _by_place(stays)
    coming = stays.filter(first=scope.first).select_related("place", "container")
    comes, more_comes = _largest(_together(coming.order_by("place_id", "-load", "pk")))
    before = Scope("day", scope.first - timedelta(days=1), scope.today)
    leaving = [
        stay
        for stay in stays_within(before).select_related("place").order_by("-load", "pk")
        if stay.leaves == scope.first
    ]
    goes, more_goes = _largest(_together(leaving))
    works = works_within(scope)
    jobs = list(works.select_related("sowing__variety").order_by(IN_ITS_TURN, "kind", "pk")[:WORKS])
    shown = [some for several in tonight.values() for some in several[:STANDS]]
    parts = named({some[0].part_id for some in (*shown, *comes, *goes)} | {work.part_id for work in jobs})

    def stand(some: Sequence[Stay]) -> Stand:
        part = parts[some[0].part_id]
        return Stand(some[0], part, label_of(part), amount_words(sum(stay.load for stay in some)))

    at = load.index(scope.first)
    rooms = []
    for place in load.season.places:
        used, there = load.used[load.row[place.key], at], load.capacity[load.row[place.key], at]
        several = tonight.get(place.key, [])
        rooms.append(
            Room(
                name=place.name,
                load=amount_words(float(used)),
                capacity=amount_words(float(there)),
                over=amount_words(float(used - there)) if used > there + EASE else "",
                stands=tuple(map(stand, several[:STANDS])),
                more=max(len(several) - STANDS, 0),
                all=scope.query(view="week", day=scope.first, at=place_at(place)),
            )
        )
    return DayView(
        rooms=tuple(rooms),
        hands=tuple(_hands(load, at)),
        jobs=tuple(_job(work, parts) for work in jobs),
        more_jobs=max(works.count() - WORKS, 0),
        comes=tuple(map(stand, comes)),
        more_comes=more_comes,
        goes=tuple(map(stand, goes)),
        more_goes=more_goes,
        open=bool(load.open[at]),
    )


def _together(stays: Iterable[Stay]) -> list[list[Stay]]:
    """The stands of each part in each place, in the order of the first of them."""
    found: dict[tuple[int, int], list[Stay]] = defaultdict(list)
    for stay in stays:
        found[stay.part_id, stay.place_id].append(stay)
    return list(found.values())


def _by_place(stays: QuerySet[Stay]) -> dict[str, list[list[Stay]]]:
    """The stands of a night by the key of their place, the largest first."""
    found: dict[str, list[list[Stay]]] = defaultdict(list)
    for some in _together(stays.select_related("container").order_by("-load", "pk")):
        found[str(some[0].place_id)].append(some)
    for several in found.values():
        several.sort(key=lambda some: -sum(stay.load for stay in some))
    return found


def _largest(several: list[list[Stay]]) -> tuple[list[list[Stay]], int]:
    return several[:CROSSINGS], max(len(several) - CROSSINGS, 0)


def _hands(load: Load, at: int) -> Iterable[Hands]:
    for index in telling(load, slice(at, at + 1)):
        asked, there = float(load.asked[index, at]), float(load.hours[index, at])
        words = hands_words(load.sets[index].told)
        yield Hands(words, amount_words(asked), amount_words(there), asked > there + EASE)


def _job(work: Work, parts: dict[int, Part]) -> Job:
    skills = ", ".join(dict.fromkeys(str(skill) for skill, hours in work.hours if hours))
    part = parts[work.part_id]
    return Job(work, part, label_of(part), skills, work.total_hours * 60)
