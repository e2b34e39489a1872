"""One day of the season: what stands where that night, what is done, which batches come and go. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import QuerySet

from ..models import Part, Stay, Work
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


@dataclass(frozen=True, slots=True)
class Stand:
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
    comes, more_comes = _first_of(stays.filter(first=scope.first))
    before = Scope("day", scope.first - timedelta(days=1), scope.today)
    leaving = [
        stay
        for stay in stays_within(before).select_related("place").order_by("-load", "pk")
        if stay.leaves == scope.first
    ]
    goes, more_goes = leaving[:CROSSINGS], max(len(leaving) - CROSSINGS, 0)
    works = works_within(scope)
    jobs = list(works.select_related("sowing__variety").order_by("part_of_day", "kind", "pk")[:WORKS])
    shown = [stay for several in tonight.values() for stay in several[:STANDS]]
    parts = named({stay.part_id for stay in (*shown, *comes, *goes)} | {work.part_id for work in jobs})

    def stand(stay: Stay) -> Stand:
        part = parts[stay.part_id]
        return Stand(stay, part, label_of(part), amount_words(stay.load))

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
                over=amount_words(float(used - there)) if used > there + 1e-6 else "",
                stands=tuple(stand(stay) for stay in several[:STANDS]),
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


def _by_place(stays: QuerySet[Stay]) -> dict[str, list[Stay]]:
    """The stands of a night by the key of their place, the largest first."""
    found: dict[str, list[Stay]] = defaultdict(list)
    for stay in stays.select_related("container").order_by("-load", "pk"):
        found[str(stay.place_id)].append(stay)
    return found


def _first_of(stays: QuerySet[Stay]) -> tuple[list[Stay], int]:
    found = list(stays.select_related("place", "container").order_by("place_id", "-load", "pk")[:CROSSINGS])
    more = stays.count() - CROSSINGS if len(found) == CROSSINGS else 0
    return found, max(more, 0)


def _hands(load: Load, at: int) -> Iterable[Hands]:
    for index in telling(load, slice(at, at + 1)):
        asked, there = float(load.asked[index, at]), float(load.hours[index, at])
        words = hands_words(load.sets[index].told)
        yield Hands(words, amount_words(asked), amount_words(there), asked > there + EASE)


def _job(work: Work, parts: dict[int, Part]) -> Job:
    skills = ", ".join(dict.fromkeys(str(skill) for skill, hours in work.hours if hours))
    part = parts[work.part_id]
    return Job(work, part, label_of(part), skills, work.total_hours * 60)
