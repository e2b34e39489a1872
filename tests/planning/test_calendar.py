"""Open days, nights and weeks, against dateutil's recurrence rules and the public holidays of `holidays`."""

from datetime import date, timedelta

import holidays
import pytest
from dateutil.rrule import DAILY, rrule
from hypothesis import given
from hypothesis import strategies as st

from production.planning.calendar import (
    nearest_open,
    next_open,
    nights_between,
    open_days,
    previous_open,
    week_of,
)
from production.planning.terms import Calendar, StayPlan

WORKWEEK = frozenset(range(5))
MONDAY = date(2026, 4, 20)

calendars = st.builds(
    Calendar,
    st.frozensets(st.integers(0, 6), min_size=1),
    st.frozensets(st.dates(date(2026, 1, 1), date(2026, 12, 31)), max_size=40),
)
days_of_2026 = st.dates(date(2026, 1, 1), date(2026, 12, 31))


@pytest.mark.parametrize("country", ["US", "DE", "NL", "ES", "FR", "JP"])
@pytest.mark.parametrize("year", range(2024, 2031))
def test_open_days_of_a_year_are_the_weekdays_less_the_public_holidays(country: str, year: int):
    # References: dateutil.rrule counts the weekdays, `holidays` names the days that are closed.
    closed = frozenset(holidays.country_holidays(country, years=year))
    first, last = date(year, 1, 1), date(year, 12, 31)
    weekdays = {day.date() for day in rrule(DAILY, dtstart=first, until=last, byweekday=sorted(WORKWEEK))}
    assert open_days(Calendar(WORKWEEK, closed), first, last) == sorted(weekdays - closed)


@pytest.mark.parametrize("country", ["US", "DE", "NL"])
def test_counting_on_by_open_days_agrees_with_dateutil(country: str):
    closed = frozenset(holidays.country_holidays(country, years=range(2026, 2029)))
    calendar = Calendar(frozenset(range(6)), closed)
    reference = iter(rrule(DAILY, dtstart=date(2026, 1, 1), until=date(2028, 12, 31), byweekday=range(6)))
    day = date(2025, 12, 31)
    for expected in (stamp.date() for stamp in reference if stamp.date() not in closed):
        day = next_open(calendar, day + timedelta(days=1))
        assert day == expected


def test_christmas_of_2026_pushes_to_the_monday_after():
    # By hand: 25 December 2026 is a Friday, and the weekend is closed.
    calendar = Calendar(WORKWEEK, frozenset(holidays.country_holidays("US", years=2026)))
    assert next_open(calendar, date(2026, 12, 25)) == date(2026, 12, 28)
    assert previous_open(calendar, date(2026, 12, 25)) == date(2026, 12, 24)


@given(calendars, days_of_2026)
def test_an_open_day_is_its_own_next_and_previous(calendar: Calendar, day: date):
    after, before = next_open(calendar, day), previous_open(calendar, day)
    assert calendar.is_open(after)
    assert calendar.is_open(before)
    assert (after == day) == (before == day) == calendar.is_open(day)
    assert open_days(calendar, before, after) == sorted({before, after})


def test_a_nursery_that_never_opens_has_no_next_day():
    with pytest.raises(ValueError, match="no open day"):
        next_open(Calendar(frozenset()), MONDAY)


def test_the_earlier_of_two_equals_is_nearest():
    saturday_and_monday = Calendar(frozenset({0, 5}))
    sunday = date(2026, 4, 19)
    assert nearest_open(saturday_and_monday, sunday, date(2026, 4, 1), date(2026, 4, 30)) == date(2026, 4, 18)
    assert nearest_open(saturday_and_monday, sunday, sunday, date(2026, 4, 30)) == MONDAY


@given(calendars, days_of_2026, days_of_2026, days_of_2026)
def test_no_open_day_within_the_limits_departs_less(calendar: Calendar, day: date, first: date, last: date):
    nearest, within = nearest_open(calendar, day, first, last), open_days(calendar, first, last)
    assert (nearest is None) == (not within)
    if nearest:
        assert nearest in within
        assert all(abs(nearest - day) <= abs(other - day) for other in within)


def test_three_nights_from_a_monday_end_on_the_thursday():
    stay = StayPlan("union", "healing", "healing", "chamber", MONDAY, 3, "tray", 1, 1.0)
    assert stay.leaves == date(2026, 4, 23)
    assert nights_between(MONDAY, stay.leaves) == 3


def test_plants_cannot_leave_before_they_enter():
    with pytest.raises(ValueError, match="before they enter"):
        nights_between(MONDAY, date(2026, 4, 19))


@given(st.dates(date(2020, 1, 1), date(2035, 12, 31)), st.integers(0, 6))
def test_a_week_begins_on_its_weekday_at_most_six_days_ago(day: date, weekday: int):
    first = week_of(day, weekday)
    assert first.weekday() == weekday
    assert 0 <= (day - first).days < 7


def test_iso_weeks_begin_where_the_standard_says():
    # ISO 8601 by the standard library: day 1 of each ISO week is its Monday.
    for n in range(1500):
        day = date(2024, 1, 1) + timedelta(days=n)
        year, week, _ = day.isocalendar()
        assert week_of(day) == date.fromisocalendar(year, week, 1)
