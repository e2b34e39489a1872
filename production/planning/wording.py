"""The short English sentences of the planner: why a date is what it is, and why something cannot be."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from .terms import BENCH, COLD, GERMINATION, HARDENING, HEALING, STAGING, Subject

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip

PLACE_WORDS = {
    GERMINATION: "place for germination",
    BENCH: "bench",
    HEALING: "healing chamber",
    HARDENING: "hardening space",
    STAGING: "pickup staging",
    COLD: "cold store",
}

PLANT_WORDS: dict[Subject, str] = {
    "rootstock": "rootstock",
    "scion": "scion",
    "union": "grafts",
    "plain": "seedlings",
    "room": "room",
}


def day_words(day: date, today: date | None = None) -> str:
    """'Tue 21 April'; the year is added only where it differs from today's."""
    words = f"{WEEKDAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
    return words if today is None or day.year == today.year else f"{words} {day.year}"


def counted(number: int, one: str, many: str | None = None) -> str:
    """'1 night', '4 nights'."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def nights_words(nights: int) -> str:
    return counted(nights, "night")


def listed(words: Iterable[str], last: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'."""
    each = list(words)
    return each[0] if len(each) == 1 else f"{', '.join(each[:-1])} {last} {each[-1]}" if each else ""


def place_words(kinds: Sequence[str]) -> str:
    return listed((PLACE_WORDS.get(kind, kind) for kind in kinds), last="or")


def stages_words(stages: Sequence[tuple[str, int]]) -> str:
    """'4 nights healing, 5 hardening, 21 growing on', of (name of the stage, nights)."""
    named = [(name.lower(), nights) for name, nights in stages if nights]
    if not named:
        return ""
    (name, nights), *others = named
    return ", ".join([f"{nights_words(nights)} {name}", *(f"{n} {name}" for name, n in others)])


def shift_words(days: int) -> str:
    """'2 days earlier', '1 day later'."""
    return f"{counted(abs(days), 'day')} {'earlier' if days < 0 else 'later'}"


# --- why a date is what it is -----------------------------------------------------------------------------


def why_start(
    stages: Sequence[tuple[str, int]], waits: int, moved: int, usual_if_closed: date | None, parts: int
) -> str:
    """Of the grafting day; `moved` days away from the usual one."""
    before = stages_words(stages)
    why = f"{before} before pickup" if before else "pickup"
    if waits:
        why += f", ready {nights_words(waits)} early"
    if parts > 1:
        why += f"; grafted over {counted(parts, 'day')}"
    if moved and usual_if_closed:
        why += f"; {day_words(usual_if_closed)} is closed"
    elif moved:
        why += f"; {shift_words(moved)} than usual, where calendar, room and hands allow it"
    return why + "."


def why_stage(nights: int, usual: int) -> str:
    why = nights_words(nights)
    return f"{why} instead of the usual {usual}." if nights != usual else f"{why}, as usual."


def why_sown(emerges: date, goal: str, first: date | None, last: date | None, moved: int) -> str:
    why = f"Emerges on {day_words(emerges)}"
    if first and last:
        why += f", can be grafted from {day_words(first)} to {day_words(last)}"
    why += f"; {goal}"
    if moved:
        why += f"; {shift_words(moved)} than the best day, which is closed or taken"
    return why + "."


def why_held_cold(nights: int, graft: date) -> str:
    return f"{nights_words(nights)} in the cold, where stems stand still, to be grafted on {day_words(graft)}."


def why_ready(pickup: date, waits: int) -> str:
    return f"{nights_words(waits)} before pickup on {day_words(pickup)}." if waits else "On the day of pickup."


def why_pickup(pickup: date, asked: date, asked_is_open: bool) -> str:
    if pickup == asked:
        return "As asked."
    closed = "" if asked_is_open else ", which is closed"
    return f"{shift_words((pickup - asked).days)} than asked for ({day_words(asked)}{closed})."


def why_held(last: date, nights: int) -> str:
    return f"Room is held for {nights_words(nights)}, up to the night before {day_words(last)}."
