"""Open days, nights and weeks: the counting that every plan leans on."""

from __future__ import annotations

from datetime import date, timedelta

from production.planning.terms import Calendar

# A year and a day: a calendar with no open day in that time has none.
FARTHEST = 367


def next_open(calendar: Calendar, day: date) -> date:
    """`day` itself if it is open, else the first open day after it; ValueError if a year brings none."""
    return _step_to_open(calendar, day, 1)


def previous_open(calendar: Calendar, day: date) -> date:
    """`day` itself if it is open, else the last open day before it; ValueError if a year brings none."""
    return _step_to_open(calendar, day, -1)


def _step_to_open(calendar: Calendar, day: date, step: int) -> date:
    for days in range(FARTHEST):
        candidate = day + timedelta(days=step * days)
        if calendar.is_open(candidate):
            return candidate
    raise ValueError(f"no open day within a year of {day.isoformat()}")


def nearest_open(calendar: Calendar, day: date, first: date, last: date) -> date | None:
    """The open day within first … last that departs least from `day`, the earlier of two equals; None if none."""
    return min(
        open_days(calendar, first, last), key=lambda open_day: (abs(open_day - day), open_day), default=None
    )


def open_days(calendar: Calendar, first: date, last: date) -> list[date]:
    """Every open day from first to last, both included, in order; empty when last lies before first."""
    span = ((first + timedelta(days=n)) for n in range((last - first).days + 1))
    return [day for day in span if calendar.is_open(day)]


def nights_between(first: date, leaves: date) -> int:
    """Nights held by plants that enter on `first` and move on during `leaves`; ValueError if that is backwards."""
    nights = (leaves - first).days
    if nights < 0:
        raise ValueError(f"plants cannot leave on {leaves.isoformat()}, before they enter on {first.isoformat()}")
    return nights


def week_of(day: date, first_weekday: int = 0) -> date:
    """The first day of the week that `day` lies in; weeks begin on `first_weekday` (Monday 0)."""
    return day - timedelta(days=(day.weekday() - first_weekday) % 7)
