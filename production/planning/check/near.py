"""A season cut down to what can matter to some plans: the nights that look full with them, and their days."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict, deque
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import accumulate
from operator import attrgetter

from production.planning.check.case import EASE
from production.planning.terms import HandsClaim, LinePlan, Place, RoomClaim, Season

first_night = attrgetter("first")


class _Stays:
    """The claims of one place in order of their first night, and what they come to from night to night."""

    def __init__(self) -> None:
        self.claims: list[RoomClaim] = []
        self._longest = 0
        self._days: list[int] = []
        self._taken: list[float] = []

    def sort(self) -> None:
        self.claims.sort(key=first_night)
        self._longest = max(claim.nights for claim in self.claims)
        changes: dict[int, float] = defaultdict(float)
        for claim in self.claims:
            first = claim.first.toordinal()
            changes[first] += claim.load
            changes[first + max(claim.nights, 0)] -= claim.load
        self._days = sorted(changes)
        self._taken = [0.0, *accumulate(changes[day] for day in self._days)]

    def taken(self, night: date) -> float:
        return self._taken[bisect_right(self._days, night.toordinal())]

    def on(self, nights: set[date]) -> Iterator[RoomClaim]:
        """Those that hold any of these nights."""
        first, last = min(nights), max(nights)
        begin = bisect_right(self.claims, first - timedelta(days=self._longest), key=first_night)
        end = bisect_right(self.claims, last, key=first_night)
        for claim in self.claims[begin:end]:
            if any(0 <= (night - claim.first).days < claim.nights for night in nights):
                yield claim


class _Sorted:
    """The claims of a season, by place and by day."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.stays: dict[str, _Stays] = defaultdict(_Stays)
        self.work: dict[date, list[HandsClaim]] = defaultdict(list)
        for stay in season.room:
            self.stays[stay.place].claims.append(stay)
        for work in season.hands:
            self.work[work.day].append(work)
        for stays in self.stays.values():
            stays.sort()

    def near(self, place: Place, wanted: dict[date, float]) -> Iterator[RoomClaim]:
        """The claims on those nights on which, with what is wanted of it, the place looks full."""
        stays = self.stays.get(place.key)
        if stays:
            # Summed up from night to night, which may be off by a rounding: hence half the ease.
            full = {
                night
                for night, load in wanted.items()
                if stays.taken(night) + load > place.capacity_on(night) + EASE / 2
            }
            yield from stays.on(full) if full else ()


_kept: deque[_Sorted] = deque(maxlen=2)  # of the seasons asked about last, which nobody changes


def near(season: Season, plans: Sequence[LinePlan]) -> Season:
    """The season with no more of its claims than can be in conflict with these plans, alone or with each other.

    To sort the claims of ten thousand batches takes longer than to judge a plan; so they are kept sorted for as
    long as the same season is asked about.
    """
    known = next((each for each in _kept if each.season is season), None)
    if known is None:
        known = _Sorted(season)
        _kept.append(known)
    wanted: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    for stay in (stay for plan in plans for stay in plan.stays):
        for number in range(stay.nights):
            wanted[stay.place][stay.first + timedelta(days=number)] += stay.load
    days = sorted({work.day for plan in plans for work in plan.works})
    return replace(
        season,
        room=tuple(claim for place in season.places for claim in known.near(place, wanted[place.key])),
        hands=tuple(claim for day in days for claim in known.work.get(day, ())),
    )
