"""The calendar entry in a pickup notice: days on which the plants can be fetched (RFC 5545)."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

from icalendar import Calendar, Event

CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f]")


def calendar_text(words: str) -> str:
    """Words as a calendar may hold them: without control characters, but in lines (RFC 5545, 3.3.11)."""
    return CONTROL.sub("", words.replace("\r\n", "\n"))


def calendar_entry(
    *,
    uid: str,
    first: date,
    days: int,
    summary: str,
    description: str = "",
    location: str = "",
    stamp: datetime,
    sequence: int = 0,
) -> str:
    """An all-day entry of `days` days from `first`, as the text of a .ics file.

    A later entry with the same uid and a higher sequence takes the place of an earlier one in the reader's
    calendar (RFC 5545, 3.8.7.4). `stamp` is aware.
    """
    event = Event()
    event.add("uid", uid)
    event.add("dtstamp", stamp)
    event.add("sequence", sequence)
    event.add("dtstart", first)
    event.add("dtend", first + timedelta(days=days))  # for all-day entries the day after the last (3.6.1)
    event.add("summary", calendar_text(summary))
    event.add("status", "CONFIRMED")
    event.add("transp", "TRANSPARENT")  # it does not make the customer busy
    if description:
        event.add("description", calendar_text(description))
    if location:
        event.add("location", calendar_text(location))
    calendar = Calendar()
    calendar.add("prodid", "-//Graftwright//Pickup//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add_component(event)
    return str(calendar.to_ical().decode())
