"""What every place carries by night and every set of skills by day.

Nights and days are indexes from `Load.first` on; what lies before it or after its last night is left out.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np
import numpy.typing as npt

from .hands import ANY_TIME, PARTS, Ask, asks_of, pools, skill_sets, skills_in_parts
from .ledger import Claimed, Spots, asks_in
from .terms import Conflict, HandsClaim, PartOfDay, Place, RoomClaim, Season, Span

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Hours = Sequence[tuple[str, float]]

ALL = slice(None)
EASE = 1e-6  # what the rounding of floats may add up to, far below a tray or a minute
FEW = 50  # claims up to which adding them one by one is quicker than all at once
LOOKAHEAD = 800  # nights after today that a load covers when nothing claims later ones


class Load:
    """A season as arrays: used and capacity by place × night, asked and hours by set of skills × day.

    `used` and `capacity` are in each place's own measure (positions or m²), hours are decimal hours. `last` is
    the last night covered. `asks` are what plans to be tried will ask of hands, besides what is claimed.
    """

    def __init__(self, season: Season, last: date | None = None, asks: Iterable[Ask] = ()) -> None:
        self.season = season
        self.first = season.today
        self.row = {place.key: row for row, place in enumerate(season.places)}
        self.in_parts = skills_in_parts(season.people)
        wanted = asks_in(season.hands, bool(self.in_parts)).union(asks)
        self.asks = sorted({self.counted(ask) for ask in wanted})
        self._numbers = self._numbered()
        claimed = self._claimed(season.room, season.hands)
        ends = [int(each.max()) for each in (claimed.stays.leaves, claimed.work.day) if each.size]
        self.size = 1 + max((last - self.first).days if last else LOOKAHEAD, *ends, 0)
        begin = self.first.toordinal()
        self.days = [date.fromordinal(begin + i) for i in range(self.size)]
        self.open: Bools = self._open_days()
        self.capacity: Floats = np.array([self._capacity(place) for place in season.places]).reshape(-1, self.size)
        self.used: Floats = np.zeros_like(self.capacity)
        self.pools = pools(season.people)
        self.sets = skill_sets(self.pools, self.asks)
        self.sets_of = self._sets_by_part()
        self.hours: Floats = self._hours_by_set()
        self._most_hours: tuple[Floats, Floats] | None = None
        self.asked: Floats = np.zeros_like(self.hours)
        self.claimed: tuple[Claimed, ...] = (claimed,)
        self._add(claimed)

    # --- what there is ---

    def _capacity(self, place: Place) -> Floats:
        return np.where(where_open(place.open_spans, self.first, self.size), float(place.capacity), 0.0)

    def _open_days(self) -> Bools:
        calendar, weekdays = self.season.calendar, sorted(self.season.calendar.open_weekdays)
        is_open = np.isin(self._weekdays(), weekdays)
        closed = (self.index(day) for day in calendar.closed)
        is_open[[at for at in closed if 0 <= at < self.size]] = False
        return is_open

    def _weekdays(self) -> npt.NDArray[np.int64]:
        return np.arange(self.first.weekday(), self.first.weekday() + self.size) % 7

    def _hours_by_set(self) -> Floats:
        weekdays = self._weekdays()
        by_pool: dict[str, Floats] = {}
        for pool in self.pools:
            at_work = np.where(self.open, np.asarray(pool.hours)[weekdays], pool.care_hours)
            away = pool.person.away
            here = ~where_open(away, self.first, self.size) if away else True
            by_pool[pool.key] = at_work * here
        none = np.zeros(self.size)
        rows = [sum((by_pool[key] for key in sorted(each.holders)), none) for each in self.sets]
        return np.array(rows).reshape(-1, self.size)

    def counted(self, ask: Ask) -> Ask:
        """The ask as it counts: at any time of the day, where nobody's hours with that skill are said by part."""
        return ask if ask[0] in self.in_parts else (ask[0], ANY_TIME)

    def _numbered(self) -> dict[str, int] | dict[Ask, int]:
        """The number of each ask that claims may name; of skills alone, where parts count for nothing."""
        number = {ask: at for at, ask in enumerate(self.asks)}
        if not self.in_parts:
            return {skill: at for (skill, _part), at in number.items()}
        every = ((skill, part) for skill, _part in self.asks for part in PARTS)
        return {ask: number[self.counted(ask)] for ask in every if self.counted(ask) in number}

    def _sets_by_part(self) -> dict[PartOfDay, dict[str, list[int]]]:
        """By part of the day and skill, the sets of asks in which work of that kind counts."""
        sets_of: dict[Ask, list[int]] = defaultdict(list)
        for index, each in enumerate(self.sets):
            for ask in each.asks:
                sets_of[ask].append(index)
        skills = {skill for skill, _part in self.asks}

        def of(part: PartOfDay) -> dict[str, list[int]]:
            return defaultdict(list, {skill: sets_of[self.counted((skill, part))] for skill in skills})

        return {part: of(part) for part in PARTS} if self.in_parts else dict.fromkeys(PARTS, of(ANY_TIME))

    def index(self, day: date) -> int:
        return (day - self.first).days

    def covers(self, last: date, asks: Iterable[Ask]) -> bool:
        """Whether a question about these nights and asks can be answered on it."""
        return self.index(last) < self.size and {self.counted(ask) for ask in asks} <= set(self.asks)

    def without_limits(self) -> Load:
        """The same calendar and the same closed places, with room and hands for all: what dates alone allow."""
        free = self.copy()
        free.used = np.zeros_like(self.used)
        free.asked = np.zeros_like(self.asked)
        free.capacity = np.where(self.capacity > 0, np.inf, 0.0)
        free.hours = np.full_like(self.hours, np.inf)
        return free

    @property
    def most_hours(self) -> Floats:
        """The most hours of any day, by set of skills; reckoned again where `hours` are replaced."""
        if self._most_hours is None or self._most_hours[0] is not self.hours:
            self._most_hours = (self.hours, self.hours.max(axis=1, initial=0.0))
        return self._most_hours[1]

    def copy(self) -> Load:
        """A load on which something can be tried without touching this one."""
        twin = object.__new__(Load)
        twin.__dict__.update(self.__dict__)
        twin.used, twin.asked = self.used.copy(), self.asked.copy()
        return twin

    # --- what is taken ---

    def take(self, room: Iterable[RoomClaim], hands: Iterable[HandsClaim]) -> None:
        """Add claims to the load; those before `first` or of places unknown to the season count nowhere."""
        claimed = self._claimed(room, hands)
        self.claimed += (claimed,)
        self._add(claimed)

    def add(self, room: Iterable[RoomClaim], hands: Iterable[HandsClaim], sign: int = 1) -> None:
        """Count claims, or with −1 no longer count them, without remembering whose they are."""
        self._add(self._claimed(room, hands), sign)

    def _claimed(self, room: Iterable[RoomClaim], hands: Iterable[HandsClaim]) -> Claimed:
        return Claimed(tuple(room), tuple(hands), self.first, self.row, self._numbers, bool(self.in_parts))

    def _add(self, claimed: Claimed, sign: int = 1) -> None:
        if len(claimed.room) < FEW:
            for claim in claimed.room:
                if claim.place in self.row:
                    self.take_room(self.row[claim.place], self.index(claim.first), claim.nights, sign * claim.load)
        else:
            self.used += claimed.stays.by_night(len(self.row), self.size, sign)
        if len(claimed.hands) < FEW:
            for work in claimed.hands:
                day = self.index(work.day)
                if 0 <= day < self.size:
                    self.take_hours(day, [(skill, sign * hours) for skill, hours in work.hours], work.part)
        else:
            by_ask = claimed.work.by_ask(len(self.asks), self.size, sign)
            for at, (skill, part) in enumerate(self.asks):
                self.asked[self.sets_of[part][skill]] += by_ask[at]

    def go_on_as(self, ahead: Load) -> None:
        """From the first day of `ahead` on count what that load carries too, as far as both reach.

        Whose it is is not remembered. Both know the same places, and this one the asks of `ahead`.
        """
        begins, skipped = max(self.index(ahead.first), 0), max(ahead.index(self.first), 0)
        size = min(self.size - begins, ahead.size - skipped)
        if size <= 0:
            return
        here, there = slice(begins, begins + size), slice(skipped, skipped + size)
        for place, row in self.row.items():
            self.used[row, here] += ahead.used[ahead.row[place], there]
        for claimed in ahead.claimed:
            by_ask = claimed.work.by_ask(len(ahead.asks), ahead.size)
            for at, (skill, part) in enumerate(ahead.asks):
                self.asked[self.sets_of[part][skill], here] += by_ask[at, there]

    def spots(self, room: Iterable[RoomClaim], hands: Iterable[HandsClaim]) -> Spots:
        """Where on this load these claims fall."""
        known = [
            (self.row[claim.place], self.index(claim.first), claim) for claim in room if claim.place in self.row
        ]
        days = [(self.index(work.day), self.by_set(work.hours, work.part)) for work in hands]
        return Spots(
            tuple((row, max(at, 0), max(at + claim.nights, 0), claim.load) for row, at, claim in known),
            tuple(
                (index, day, hours)
                for day, asked in days
                if 0 <= day < self.size
                for index, hours in asked.items()
            ),
        )

    def count(self, spots: Spots, sign: int = 1) -> None:
        """Count what falls there, or with −1 no longer count it, without remembering whose it is."""
        for row, first, leaves, load in spots.stays:
            self.used[row, first:leaves] += sign * load
        for index, day, hours in spots.work:
            self.asked[index, day] += sign * hours

    def over(self, spots: Spots, where: Load | None = None) -> bool:
        """Whether a place or people are asked for too much there; with `where`, on nights that it takes too."""
        for row, first, leaves, _load in spots.stays:
            full = self.overfull(row, first, leaves)
            if full.any() and (where is None or (full & (where.used[row, first:leaves] > EASE)).any()):
                return True
        return any(
            self.overasked(index, day) and (where is None or where.asked[index, day] > EASE)
            for index, day, _hours in spots.work
        )

    def overfull(self, row: int, first: int, leaves: int) -> Bools:
        """On which of these nights a place is asked for more than there is."""
        full: Bools = self.used[row, first:leaves] > self.capacity[row, first:leaves] + EASE
        return full

    def overasked(self, index: int, day: int) -> bool:
        """Whether people are asked for more hours than there are."""
        return bool(self.asked[index, day] > self.hours[index, day] + EASE)

    def take_room(self, row: int, first: int, nights: int, load: float) -> None:
        self.used[row, max(first, 0) : max(first + nights, 0)] += load

    def take_hours(self, day: int, hours: Hours, part: PartOfDay) -> None:
        sets_of = self.sets_of[part]
        for skill, asked in hours:
            for index in sets_of[skill]:
                self.asked[index, day] += asked

    # --- what fits ---

    def room_fits(self, row: int, first: int, nights: int, load: float) -> bool:
        """Whether the place can take so much more on each of these nights."""
        if first < 0 or first + nights > self.size:
            return False
        there = slice(first, first + nights)
        return bool(np.all(self.used[row, there] + load <= self.capacity[row, there] + EASE))

    def free_by_night(self, row: int, unit: float, nights: slice = ALL) -> Floats:
        """Whole containers of that load which the place can still take, by night; of all nights, or of these."""
        left = np.maximum(self.capacity[row, nights] - self.used[row, nights], 0.0)
        free: Floats = np.floor(left / max(unit, EASE) + EASE)
        return free

    def free_containers(self, row: int, unit: float, first: int, leaves: int) -> float:
        """Whole containers of that load which the place can take on each of these nights."""
        left = float((self.capacity[row, first:leaves] - self.used[row, first:leaves]).min())
        return left if left == math.inf else float(math.floor(max(left, 0.0) / max(unit, EASE) + EASE))

    def days_for(self, hours: Hours, part: PartOfDay, care: bool, days: slice = ALL) -> Bools:
        """On which days such work may fall and finds the hands it needs; of all days, or of these."""
        may: Bools = np.ones(self.size, bool)[days] if care else self.open[days].copy()
        for index, wanted in self.by_set(hours, part).items():
            may &= self.asked[index, days] + wanted <= self.hours[index, days] + EASE
        return may

    def hours_fit(self, day: int, hours: Hours, part: PartOfDay, care: bool) -> bool:
        """The same of one day."""
        return self._fit(day, self.by_set(hours, part), care)

    def all_fit(self, day: int, works: Iterable[tuple[Hours, PartOfDay]], care: bool) -> bool:
        """The same of several pieces of work on one day, all together."""
        wanted: dict[int, float] = defaultdict(float)
        for hours, part in works:
            for index, asked in self.by_set(hours, part).items():
                wanted[index] += asked
        return self._fit(day, wanted, care)

    def _fit(self, day: int, wanted: dict[int, float], care: bool) -> bool:
        if not (0 <= day < self.size) or not (care or self.open[day]):
            return False
        return all(
            self.asked[index, day] + asked <= self.hours[index, day] + EASE for index, asked in wanted.items()
        )

    def set_of(self, conflict: Conflict) -> int:
        """The set of skills whose conflict this is: of those that hold all it names, the smallest explains it."""
        named = asks_of(conflict.key)
        return next(index for index, each in enumerate(self.sets) if named <= set(each.asks))

    def by_set(self, hours: Hours, part: PartOfDay) -> dict[int, float]:
        """The hours that each set of skills is asked for, where it is any."""
        wanted: dict[int, float] = {}
        sets_of = self.sets_of[part]
        for skill, asked in hours:
            if asked > 0:
                for index in sets_of[skill]:
                    wanted[index] = wanted.get(index, 0.0) + asked
        return wanted


def where_open(spans: Sequence[Span], first: date, size: int) -> Bools:
    """Of `size` days from `first` on: those inside a span; all of them when there is no span."""
    inside: Bools = np.full(size, not spans)
    for span in spans:
        inside[max((span.first - first).days, 0) : max((span.last - first).days + 1, 0)] = True
    return inside
