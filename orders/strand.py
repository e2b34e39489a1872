"""The strand: how one batch is drawn and said, as plain data. Standard library only.

Two strands, scion above and rootstock below, become one at the graft. `sentence` says a strand in words,
`marks` gives its geometry: along the axis as shares of its length, plus pixels at fixed places; across it in
pixels of a picture that is 40 high. Pages and papers draw those same marks (orders/templatetags/strands.py).

A day is a point on the axis and a night the stretch to the next day, so that a stay which begins on d and is
left on d+n covers n nights of the picture, and two stays that meet on a date touch.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

HEIGHT = 40
UPPER, MIDDLE, LOWER = 13.0, 20.0, 27.0
FORKED = (16.5, 23.5)
BEND = 9.0  # pixels over which a strand slants into the union
SPREAD = 7.0  # pixels over which the line forks

Lane = Literal["scion", "rootstock", "union"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A run of nights: begins on `first`, and the plants move on during `leaves`."""

    first: date
    leaves: date

    @property
    def nights(self) -> int:
        return (self.leaves - self.first).days


@dataclass(frozen=True, slots=True)
class Cold:
    """Nights in cold holding, and which strand stands in it."""

    lane: Lane
    stretch: Stretch


@dataclass(frozen=True, slots=True)
class Strand:
    """What is known of one batch, or of one part of it. What is not there is not drawn.

    `today` None means that the picture knows no today: all of it is drawn at full strength.
    `window` is the first and the last day on which the plants may be picked up.
    """

    method: str = ""
    scion_sown: tuple[date, ...] = ()
    rootstock_sown: tuple[date, ...] = ()
    plain_sown: tuple[date, ...] = ()
    grafted: tuple[date, ...] = ()
    healing: Stretch | None = None
    cover: Stretch | None = None
    notch: date | None = None
    final_cut: date | None = None
    hardening: Stretch | None = None
    growing_on: Stretch | None = None
    topped: date | None = None
    ready: date | None = None
    pickup: date | None = None
    window: tuple[date, date] | None = None
    cold: tuple[Cold, ...] = ()
    room: Stretch | None = None
    today: date | None = None

    @property
    def days(self) -> tuple[date, ...]:
        """Every day the strand knows of, in order; today is none of them."""
        stretches = [s for s in (self.healing, self.cover, self.hardening, self.growing_on, self.room) if s]
        stretches += [cold.stretch for cold in self.cold]
        found: set[date | None] = {self.notch, self.final_cut, self.topped, self.ready, self.pickup}
        found |= {*self.scion_sown, *self.rootstock_sown, *self.plain_sown, *self.grafted, *(self.window or ())}
        found |= {day for stretch in stretches for day in (stretch.first, stretch.leaves)}
        return tuple(sorted(day for day in found if day is not None))

    def before(self, day: date) -> bool:
        """Whether a day is behind us (or there is no today to ask)."""
        return self.today is None or day < self.today


# --- in words ---------------------------------------------------------------------------------------------


def gettext_noop(word: str) -> str:
    """Marks a word for the translators, who find it by this name."""
    return word


_NUMBERS = (
    gettext_noop("no"),
    gettext_noop("one"),
    gettext_noop("two"),
    gettext_noop("three"),
    gettext_noop("four"),
    gettext_noop("five"),
    gettext_noop("six"),
    gettext_noop("seven"),
    gettext_noop("eight"),
    gettext_noop("nine"),
    gettext_noop("ten"),
    gettext_noop("eleven"),
    gettext_noop("twelve"),
)
# A page hands in its own language's months (Speech.month); these serve where no language is at hand.
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Speech:
    """A language: how words are translated and how a month is called. The default is English."""

    gettext: Callable[[str], str] = str
    ngettext: Callable[[str, str, int], str] = lambda one, many, n: one if n == 1 else many
    month: Callable[[date], str] = lambda day: _MONTHS[day.month - 1]

    def number(self, n: int) -> str:
        return self.gettext(_NUMBERS[n]) if n < len(_NUMBERS) else str(n)

    def joined(self, words: list[str]) -> str:
        if len(words) < 2:
            return "".join(words)
        return self.gettext("{some} and {last}").format(some=", ".join(words[:-1]), last=words[-1])

    def days(self, days: Iterable[date], year: int | None = None) -> str:
        """'16 and 18 February'; with the year where it is not `year`."""
        months: dict[tuple[int, int], list[date]] = {}
        for day in sorted(set(days)):
            months.setdefault((day.year, day.month), []).append(day)
        return self.joined([self._month(found, year) for found in months.values()])

    def _month(self, days: list[date], year: int | None) -> str:
        numbers = self.joined([str(day.day) for day in days])
        words = self.gettext("{day} {month}").format(day=numbers, month=self.month(days[0]))
        return words if year in (None, days[0].year) else f"{words} {days[0].year}"

    def span(self, first: date, last: date, year: int | None = None) -> str:
        """'3 to 7 March', '28 February to 2 March'."""
        same = (first.year, first.month) == (last.year, last.month)
        start = str(first.day) if same else self.days([first], year)
        return self.gettext("{first} to {last}").format(first=start, last=self.days([last], year))


ENGLISH = Speech()


def sentence(strand: Strand, speech: Speech = ENGLISH) -> str:
    """The strand for those who hear it: what was done, then, after 'to come:', what was not."""
    said: list[str] = []
    turned = False
    for day, words in _clauses(strand, speech):
        if not turned and not strand.before(day):
            turned = True
            words = speech.gettext("to come: {what}").format(what=words) if said else words
        said.append(words)
    text = "; ".join(said)
    return text[:1].upper() + text[1:]


def _clauses(strand: Strand, speech: Speech) -> Iterator[tuple[date, str]]:
    days = strand.days
    if not days:
        return
    year = (strand.today or days[0]).year
    yield from _said_before_graft(strand, speech, year)
    yield from _said_of_graft(strand, speech, year)
    yield from _said_after_graft(strand, speech, year)


def _said_before_graft(strand: Strand, speech: Speech, year: int) -> Iterator[tuple[date, str]]:
    gettext = speech.gettext
    if strand.plain_sown or set(strand.scion_sown) == set(strand.rootstock_sown):
        sides = [(gettext("sown {days}"), strand.plain_sown or strand.scion_sown)]
    else:
        sides = [
            (gettext("rootstock sown {days}"), strand.rootstock_sown),
            (gettext("scion sown {days}"), strand.scion_sown),
        ]
    for words, sown in sorted((side for side in sides if side[1]), key=lambda side: min(side[1])):
        yield min(sown), words.format(days=speech.days(sown, year))
    held = {
        "scion": gettext("scion held cold {span}"),
        "rootstock": gettext("rootstock held cold {span}"),
        "union": gettext("held cold {span}"),
    }
    for cold in strand.cold:
        span = speech.span(cold.stretch.first, cold.stretch.leaves, year)
        yield cold.stretch.first, held[cold.lane].format(span=span)
    if strand.room:
        span = speech.span(strand.room.first, strand.room.leaves, year)
        yield strand.room.first, gettext("room taken {span}").format(span=span)


def _said_of_graft(strand: Strand, speech: Speech, year: int) -> Iterator[tuple[date, str]]:
    gettext, ngettext = speech.gettext, speech.ngettext
    if strand.grafted:
        words = gettext("side-grafted {days}") if strand.method == "side" else gettext("grafted {days}")
        yield min(strand.grafted), words.format(days=speech.days(strand.grafted, year))
    if strand.healing:
        nights = strand.healing.nights
        words = ngettext("{n} night healing", "{n} nights healing", nights)
        yield strand.healing.first, words.format(n=speech.number(nights))
    if strand.cover:
        words = gettext("under a propped cover to {day}")
        yield strand.cover.first, words.format(day=speech.days([strand.cover.leaves], year))


def _said_after_graft(strand: Strand, speech: Speech, year: int) -> Iterator[tuple[date, str]]:
    gettext = speech.gettext
    events: list[tuple[date | None, str, date | None]] = [
        (strand.notch, gettext("notch {day}"), strand.notch),
        (strand.final_cut, gettext("final cut {day}"), strand.final_cut),
        (strand.topped, gettext("topped for two leaders {day}"), strand.topped),
        (strand.ready, gettext("ready {day}"), strand.ready),
    ]
    if strand.hardening:
        events.append((strand.hardening.first, gettext("hardening to {day}"), strand.hardening.leaves))
    for start, words, day in sorted((e for e in events if e[0]), key=lambda event: event[0] or date.min):
        if start and day:
            yield start, words.format(day=speech.days([day], year))
    if strand.pickup:
        words = gettext("pickup {day}").format(day=speech.days([strand.pickup], year))
        if strand.window and strand.window[0] != strand.window[1]:
            words += gettext(", any day from {span}").format(span=speech.span(*strand.window, year))
        yield strand.pickup, words


# --- as a picture -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Axis:
    """The days a picture shows, from the first to the last of them."""

    first: date
    last: date

    def at(self, day: date) -> float:
        """Where a day lies, as a share of the axis; outside it below 0 or above 1."""
        return (day - self.first).days / max((self.last - self.first).days, 1)

    def weeks(self, begins: int = 0) -> list[date]:
        """The first days of the weeks on the axis; weeks begin on weekday `begins`, Monday 0."""
        start = self.first + timedelta(days=(begins - self.first.weekday()) % 7)
        return [start + timedelta(days=n) for n in range(0, (self.last - start).days + 1, 7)]


def axis_of(strand: Strand, before: int = 2, after: int = 3) -> Axis:
    """An axis that shows the whole strand with a few days' room on either side."""
    days = strand.days or (strand.today or date(2000, 1, 1),)
    return Axis(days[0] - timedelta(days=before), days[-1] + timedelta(days=after))


@dataclass(frozen=True, slots=True)
class Mark:
    """One stroke of the picture.

    `line` runs at height `y` from share `x1` (and `dx1` pixels) to share `x2` (and `dx2` pixels); `dot` sits at
    `x1`, `y`; `glyph` is a path `d` in pixels around `x1`; `dome` and `box` span `x1` to `x2` and `y` to `y2`.
    """

    kind: str
    shape: Literal["line", "dot", "glyph", "dome", "box"]
    x1: float
    x2: float = 0.0
    y: float = MIDDLE
    y2: float = MIDDLE
    dx1: float = 0.0
    dx2: float = 0.0
    d: str = ""
    done: bool = True


def marks(strand: Strand, axis: Axis) -> tuple[Mark, ...]:
    """The strand drawn on an axis, in the order of painting. What lies outside the axis is cut off."""
    brush = _Brush(strand, axis)
    _draw_cold_and_room(brush)
    _draw_domes(brush)
    _draw_before_graft(brush)
    _draw_after_graft(brush)
    _draw_graft_and_cuts(brush)
    _draw_pickup(brush)
    return tuple(brush.made)


class _Brush:
    """Puts marks on an axis, cut at its ends and parted where today is."""

    def __init__(self, strand: Strand, axis: Axis) -> None:
        self.strand = strand
        self.axis = axis
        self.made: list[Mark] = []

    def line(self, kind: str, first: date, last: date, y: float, dx1: float = 0.0, dx2: float = 0.0) -> None:
        if last <= first:
            return
        today = self.strand.today
        if today is not None and first < today < last:
            self._stroke(kind, first, today, y, dx1, 0.0, True)
            self._stroke(kind, today, last, y, 0.0, dx2, False)
        else:
            self._stroke(kind, first, last, y, dx1, dx2, today is None or last <= today)

    def _stroke(self, kind: str, first: date, last: date, y: float, dx1: float, dx2: float, done: bool) -> None:
        x1, x2 = self.axis.at(first), self.axis.at(last)
        if x2 <= 0 or x1 >= 1:
            return
        mark = Mark(kind, "line", x1, x2, y=y, y2=y, dx1=dx1, dx2=dx2, done=done)
        if x1 < 0:
            mark = replace(mark, x1=0.0, dx1=0.0)
        if x2 > 1:
            mark = replace(mark, x2=1.0, dx2=0.0)
        self.made.append(mark)

    def at(self, kind: str, shape: Literal["dot", "glyph"], day: date, y: float = MIDDLE, d: str = "") -> None:
        x = self.axis.at(day)
        if 0 <= x <= 1:
            self.made.append(Mark(kind, shape, x, y=y, d=d, done=self.strand.before(day)))

    def across(self, kind: str, shape: Literal["dome", "box"], stretch: Stretch, y: float, y2: float) -> None:
        x1, x2 = max(self.axis.at(stretch.first), 0.0), min(self.axis.at(stretch.leaves), 1.0)
        if x1 < x2:
            self.made.append(Mark(kind, shape, x1, x2, y=y, y2=y2, done=self.strand.before(stretch.leaves)))


def _draw_cold_and_room(brush: _Brush) -> None:
    middle = {"scion": UPPER, "rootstock": LOWER, "union": MIDDLE}
    for cold in brush.strand.cold:
        for reach in (8.0, 5.0):
            y = middle[cold.lane]
            brush.across("cold", "box", cold.stretch, y - reach, y + reach)
    if brush.strand.room:
        brush.across("room", "box", brush.strand.room, UPPER, LOWER)


def _draw_domes(brush: _Brush) -> None:
    if brush.strand.healing:
        brush.across("healing", "dome", brush.strand.healing, 7.0, 30.0)
    if brush.strand.cover:
        brush.across("cover", "dome", brush.strand.cover, 10.0, 30.0)


def _draw_before_graft(brush: _Brush) -> None:
    strand = brush.strand
    union = _union_begins(strand)
    for kind, sown, y in (("scion", strand.scion_sown, UPPER), ("rootstock", strand.rootstock_sown, LOWER)):
        if sown and union:
            brush.line(kind, min(sown), union, y, dx2=-BEND)
        _draw_sowings(brush, kind, sown, y)
    if strand.plain_sown:
        brush.line("scion", min(strand.plain_sown), _plain_ends(strand), MIDDLE)
        _draw_sowings(brush, "scion", strand.plain_sown, MIDDLE)


def _draw_sowings(brush: _Brush, kind: str, sown: tuple[date, ...], y: float) -> None:
    for number, day in enumerate(sorted(sown)):
        brush.at(f"{kind}-again" if number else f"{kind}-sown", "dot", day, y)


def _union_begins(strand: Strand) -> date | None:
    """The first graft; before one is planned, where what comes after it begins."""
    after = [s.first for s in (strand.healing, strand.hardening, strand.growing_on) if s]
    return min(strand.grafted or after, default=strand.ready)


def _plain_ends(strand: Strand) -> date:
    after = [s.first for s in (strand.hardening, strand.growing_on) if s]
    return min(after, default=strand.ready or strand.pickup or strand.days[-1])


def _draw_after_graft(brush: _Brush) -> None:
    strand = brush.strand
    if strand.healing:
        brush.line("growing", strand.healing.first, strand.healing.leaves, MIDDLE)
    for stretch in (strand.cover, strand.hardening):
        if stretch:
            brush.line("hardening", stretch.first, stretch.leaves, MIDDLE)
    if strand.growing_on:
        _draw_growing_on(brush, strand.growing_on)


def _draw_growing_on(brush: _Brush, stretch: Stretch) -> None:
    topped = brush.strand.topped
    if topped is None or topped >= stretch.leaves:
        brush.line("growing", stretch.first, stretch.leaves, MIDDLE)
        return
    topped = max(topped, stretch.first)
    brush.line("growing", stretch.first, topped, MIDDLE)
    brush.at("leader", "glyph", topped, d=f"M{SPREAD:g} {FORKED[0]}L0 20 {SPREAD:g} {FORKED[1]}")
    for y in FORKED:
        brush.line("leader", topped, stretch.leaves, y, dx1=SPREAD)


def _draw_graft_and_cuts(brush: _Brush) -> None:
    strand = brush.strand
    union = _union_begins(strand)
    if union and strand.scion_sown:
        brush.at("scion", "glyph", union, d=f"M-{BEND:g} {UPPER:g}L0 20")
    if union and strand.rootstock_sown:
        brush.at("rootstock", "glyph", union, d=f"M-{BEND:g} {LOWER:g}L0 20")
    if strand.grafted and strand.final_cut:
        brush.line("own-root", min(strand.grafted), strand.final_cut, UPPER, dx1=-BEND)
    if strand.notch:
        brush.at("cut", "glyph", strand.notch, d="M0 10.5V15.5")
    if strand.final_cut:
        brush.at("cut", "glyph", strand.final_cut, d="M0 6V19")
    for day in strand.grafted:
        brush.at("graft", "glyph", day, d="M-4.5 31 4.5 9")


def _draw_pickup(brush: _Brush) -> None:
    strand = brush.strand
    if strand.ready and strand.pickup:
        brush.line("waiting", strand.ready, strand.pickup, MIDDLE)
    if strand.window:
        first, last = strand.window
        brush.at("window", "glyph", first, d="M-3 31V35H0")
        brush.line("window", first, last, 35.0)
        brush.at("window", "glyph", last, d="M3 31V35H0")
    if strand.pickup:
        brush.at("promised", "glyph", strand.pickup, d="M-5.5 8.5H5.5L0 17.5Z")
