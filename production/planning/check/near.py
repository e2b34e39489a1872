"""A season cut down to the nights and days of some plans, which is enough of it to judge these."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict, deque
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from operator import attrgetter

from production.planning.terms import HandsClaim, LinePlan, RoomClaim, Season

first_night = attrgetter("first")


class _Sorted:
    """The claims of a season: by place in order of their first night, and by day."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.stays: dict[str, list[RoomClaim]] = defaultdict(list)
        self.work: dict[date, list[HandsClaim]] = defaultdict(list)
        for stay in season.room:
            self.stays[stay.place].append(stay)
        for work in season.hands:
            self.work[work.day].append(work)
        for stays in self.stays.values():
            stays.sort(key=first_night)
        self.longest = {place: max(stay.nights for stay in stays) for place, stays in self.stays.items()}

    def stays_in(self, place: str, first: date, last: date) -> Iterator[RoomClaim]:
        """Those that hold any night from first to last."""
        stays = self.stays.get(place)
        if stays:
            begin = bisect_right(stays, first - timedelta(days=self.longest[place]), key=first_night)
            end = bisect_right(stays, last, key=first_night)
            yield from (stay for stay in stays[begin:end] if stay.leaves > first)


_kept: deque[_Sorted] = deque(maxlen=2)  # of the seasons asked about last, which nobody changes


def near(season: Season, plans: Sequence[LinePlan]) -> Season:
    """The season with no more of its claims than meet the nights and days of these plans.

    Sorting the claims of ten thousand batches takes longer than judging a plan; so they are kept sorted for as
    long as the same season is asked about.
    """
    known = next((each for each in _kept if each.season is season), None)
    if known is None:
        known = _Sorted(season)
        _kept.append(known)
    nights: dict[str, tuple[date, date]] = {}
    for stay in (stay for plan in plans for stay in plan.stays if stay.nights):
        last = stay.leaves - timedelta(days=1)
        first, latest = nights.get(stay.place, (stay.first, last))
        nights[stay.place] = min(first, stay.first), max(latest, last)
    days = sorted({work.day for plan in plans for work in plan.works})
    return replace(
        season,
        room=tuple(
            claim for place, (first, last) in nights.items() for claim in known.stays_in(place, first, last)
        ),
        hands=tuple(claim for day in days for claim in known.work.get(day, ())),
    )
