"""A user's calendar as a file that calendar programs fetch again and again (iCalendar, RFC 5545 and RFC 7986)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from icalendar import Calendar, Event

from orders.calendar_entry import calendar_text

from .queries.calendar import Entry

FETCHED_EACH = timedelta(hours=1)  # what is asked of calendar programs; not all of them heed it


@dataclass(frozen=True, slots=True)
class Told:
    """An entry as it is told: how often it changed since it was first told, and when last (aware)."""

    entry: Entry
    sequence: int
    changed: datetime


def calendar_of(told: Iterable[Told], *, name: str, site: str) -> bytes:
    """The file. `site` is the address of the service, 'https://orders.example.org'."""
    calendar = Calendar()
    calendar.add("prodid", "-//Graftwright//Calendar//EN")
    calendar.add("version", "2.0")
    name = calendar_text(name)
    calendar.add("name", name)  # RFC 7986, 5.1
    calendar.add("x-wr-calname", name)  # what programs older than that go by
    calendar.add("refresh-interval", FETCHED_EACH, parameters={"VALUE": "DURATION"})  # RFC 7986, 5.7
    for each in told:
        calendar.add_component(_event(each, site))
    return bytes(calendar.to_ical())


def _event(told: Told, site: str) -> Event:
    entry, event = told.entry, Event()
    event.add("uid", f"{entry.uid}@{urlsplit(site).hostname or 'localhost'}")
    event.add("dtstamp", told.changed)  # without a METHOD the same as LAST-MODIFIED (RFC 5545, 3.8.7.2)
    event.add("last-modified", told.changed)
    event.add("sequence", told.sequence)
    event.add("dtstart", entry.first)
    event.add("dtend", entry.first + timedelta(days=entry.days))  # of all-day entries the day after (3.6.1)
    event.add("summary", calendar_text(entry.summary))
    event.add("description", calendar_text(entry.description))
    event.add("url", f"{site.rstrip('/')}{entry.path}")
    event.add("transp", "TRANSPARENT")  # it makes nobody busy
    event.add("class", "PRIVATE")
    return event
