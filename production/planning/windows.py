"""The days on which one side may be sown, so that it can be grafted (or moved on) on a given day.

The clocks answer by thermal sums; the shortest and longest nights of the stages bound the answer further. Answers
are remembered, for the search for a pickup asks the same ones again and again.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import lru_cache

from .clocks import emergence_date, graftable_window, sowing_day_for
from .legs import SideCourse
from .terms import Warmth

ONE_DAY = timedelta(days=1)

Window = tuple[date, date, date]  # first, best and last day to sow

emergence_date = lru_cache(maxsize=65536)(emergence_date)
graftable_window = lru_cache(maxsize=65536)(graftable_window)
sowing_day_for = lru_cache(maxsize=65536)(sowing_day_for)


def emerges(side: SideCourse, sown: date, germination: Warmth) -> date:
    day: date = emergence_date(side.material.clock, sown, germination)
    return day


def graftable(side: SideCourse, sown: date, germination: Warmth, raising: Warmth) -> tuple[date, date]:
    """First and last day on which plants of this sowing can be grafted."""
    window = graftable_window(side.material.clock, sown, germination, raising)
    return window.first, window.last


def sowing_window(side: SideCourse, start: date, germination: Warmth, raising: Warmth) -> Window | None:
    """When to sow for plants that leave raising on `start`; None: no day is right. `Impossible` from a clock."""
    if side.subject == "plain":
        return _by_nights(side, start, germination)
    window = sowing_day_for(side.material.clock, start, germination, raising)
    first, last = window.earliest, window.latest
    if side.raising.nights.longest:
        bound = _by_nights(side, start, germination)
        first, last = max(first, bound[0]), min(last, bound[2])
    return (first, min(max(window.aim, first), last), last) if first <= last else None


def _by_nights(side: SideCourse, start: date, germination: Warmth) -> Window:
    nights = side.raising.nights
    last = _last_sown_to_emerge_by(side, start - timedelta(days=nights.shortest), germination)
    first = _last_sown_to_emerge_by(side, start - timedelta(days=nights.longest + 1), germination) + ONE_DAY
    aim = _last_sown_to_emerge_by(side, start - timedelta(days=nights.usual), germination)
    return min(first, last), min(max(aim, first), last), last


def _last_sown_to_emerge_by(side: SideCourse, day: date, germination: Warmth) -> date:
    sown = day - (emerges(side, day, germination) - day)
    while emerges(side, sown, germination) > day:
        sown -= ONE_DAY
    while emerges(side, sown + ONE_DAY, germination) <= day:
        sown += ONE_DAY
    return sown
