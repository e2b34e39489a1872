"""The private calendar: iCalendar as RFC 5545 has it, no more than its user may see, gone once taken back."""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar
from rest_framework.test import APIClient

from orders import services as orders
from orders.models import HistoryEntry, OrderLine
from production.models import CalendarLink, Person, Skill, Work
from production.services import calendar_links, moving, promise
from tests.browser import assert_holds, follow
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, working_nursery


@pytest.fixture
def working(time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    return working_nursery()


def promised(working, name: str = "Farm, Müller & Söhne; Gärtnerei", **changes) -> OrderLine:
    order = orders.take_order(
        customer=CustomerFactory(name=name), lines=[working.line(**changes)], by=None, today=TODAY
    )
    promise.accept(order=order, by=None, today=TODAY)
    return order.lines.get()


def link_of(user) -> CalendarLink:
    return calendar_links.make(user=user)


def fetched(link: CalendarLink, **headers):
    return Client().get(f"/calendar/{link.token}.ics", headers=headers)


def events_of(link: CalendarLink) -> dict[str, object]:
    answer = fetched(link)
    assert answer.status_code == 200
    return {str(event["uid"]): event for event in Calendar.from_ical(answer.content).walk("VEVENT")}


def starting(events: dict, with_what: str) -> dict:
    return {uid: event for uid, event in events.items() if uid.startswith(with_what)}


@pytest.mark.django_db
def test_the_file_is_what_rfc_5545_asks_for(working):
    """3.1 (CRLF, lines of at most 75 octets), 3.6 (PRODID, VERSION once), 3.6.1 (UID, DTSTAMP, DATE to DATE)."""
    promised(
        working, name="Farm, \x1b[1mMüller\x07 & Söhne; Gärtnerei"
    )  # what is no text there is left out (3.3.11)
    answer = fetched(link_of(working.grower))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Cache-Control"] == "private, max-age=300"
    lines = answer.content.split(b"\r\n")
    assert lines[-1] == b""
    assert not any(len(line) > 75 or re.search(rb"[\x00-\x08\x0a-\x1f\x7f]", line) for line in lines)
    calendar = Calendar.from_ical(answer.content)
    assert (calendar["version"], len(calendar.errors)) == ("2.0", 0)
    assert calendar["prodid"]
    events = calendar.walk("VEVENT")
    assert len({event["uid"] for event in events}) == len(events) > 5
    for event in events:
        assert not event.errors
        assert {"uid", "dtstamp", "last-modified", "sequence", "dtstart", "dtend", "summary"} <= {
            name.lower() for name in event
        }
        assert type(event.decoded("dtstart")) is date  # a DATE, so that no zone of time is needed
        assert event.decoded("dtend") > event.decoded("dtstart")
        assert event.decoded("dtstamp").tzinfo is UTC or event.decoded("dtstamp").utcoffset() == timedelta(0)
    assert not calendar.walk("VTIMEZONE")
    assert Calendar.from_ical(calendar.to_ical()).to_ical() == answer.content  # read and written, it is the same


@pytest.mark.django_db
def test_a_pickup_takes_its_collection_days_and_work_its_day_and_part(working):
    line = promised(working, collection_days=3)
    events = events_of(link_of(working.grower))
    (pickup,) = starting(events, "pickup-").values()
    assert (pickup.decoded("dtstart"), pickup.decoded("dtend")) == (line.pickup, line.pickup + timedelta(days=3))
    assert pickup["summary"] == "Pickup: Farm, Müller & Söhne; Gärtnerei, 100 Tallis Red on Kelder"
    assert str(pickup["url"]).endswith(f"/orders/{line.order.code}/")
    graft = Work.objects.get(kind="graft")
    work = events[f"work-{graft.day}-{graft.part_of_day}@localhost"]
    assert work.decoded("dtstart") == graft.day
    assert f"Graft Order {line.order.code}: {graft.part.grafts} grafts, " in work["description"]
    counting = Work.objects.get(kind="count_emerged", subject="scion")
    told = events[f"work-{counting.day}-{counting.part_of_day}@localhost"]["description"]
    assert f"Count what is up: {counting.sowing.seeds} to be sown, " in told, "not 0, though nothing is sown yet"
    assert " h" in work["summary"] or " min" in work["summary"]


@pytest.mark.django_db
def test_sequence_and_last_modified_move_only_when_the_entry_does(working, time_machine):
    """RFC 5545, 3.8.7.3 and 3.8.7.4."""
    line, link = promised(working), link_of(working.grower)
    first = events_of(link)
    time_machine.move_to("2027-01-11 15:00 +0000", tick=False)
    again = events_of(link)
    assert [event.to_ical() for event in again.values()] == [event.to_ical() for event in first.values()]
    later = line.pickup + timedelta(days=1)
    moving.move(line=line, pieces=[(line.quantity, later)], by=working.grower, today=TODAY)
    (uid, moved), = starting(events_of(link), "pickup-").items()  # fmt: skip
    assert uid in first
    assert moved.decoded("dtstart") == later
    assert moved["sequence"] == 1
    assert moved.decoded("last-modified") == datetime(2027, 1, 11, 15, tzinfo=UTC)


@pytest.mark.django_db
def test_a_program_that_has_it_already_is_told_so(working):
    promised(working)
    link = link_of(working.grower)
    answer = fetched(link)
    again = fetched(link, if_none_match=answer["ETag"])
    assert (again.status_code, again.content) == (304, b"")


@pytest.mark.django_db
def test_a_link_taken_back_or_made_up_leads_nowhere(working):
    promised(working)
    link = link_of(working.grower)
    newer = link_of(working.grower)
    assert (fetched(link).status_code, fetched(newer).status_code) == (404, 200)
    calendar_links.drop(user=working.grower)
    strange = CalendarLink(user=working.grower, token="made-up")
    answers = [fetched(each) for each in (newer, strange)]
    assert [answer.status_code for answer in answers] == [404, 404]
    assert [answer.content for answer in answers] == [b"", b""]
    assert HistoryEntry.objects.filter(what__startswith="calendar link").count() == 3


@pytest.mark.django_db
def test_who_may_not_sign_in_any_more_has_no_calendar(working):
    user = UserFactory(role="crew")
    link = link_of(user)
    user.is_active = False
    user.save()
    assert fetched(link).status_code == 404


@pytest.mark.django_db
def test_the_calendar_holds_no_more_than_its_user_may_see(working):
    promised(working)
    crew, office, nobody = UserFactory(role="crew"), UserFactory(role="office"), UserFactory()
    assert not starting(events_of(link_of(crew)), "pickup-")
    assert starting(events_of(link_of(crew)), "work-")
    assert starting(events_of(link_of(office)), "pickup-")
    assert events_of(link_of(nobody)) == {}
    link = link_of(office)
    office.groups.clear()  # asked anew each time it is fetched
    assert events_of(link) == {}


@pytest.mark.django_db
def test_work_is_what_the_users_skills_allow_as_on_today(working):
    promised(working)
    user = UserFactory(role="crew")
    person = Person.objects.create(name="Cara", user=user)
    person.skills.set(Skill.objects.none())
    assert not any("Graft Order" in event["description"] for event in events_of(link_of(user)).values())


@pytest.mark.django_db
def test_the_queries_of_a_calendar_do_not_grow(working):
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            fetched(link)
        return len(caught)

    promised(working)
    link = link_of(working.grower)
    fetched(link)
    few = queries()
    for n in range(4):
        promised(working, f"Farm {n}")
    fetched(link)
    assert queries() == few


@pytest.mark.django_db
def test_the_link_by_api(working):
    client = APIClient()
    client.force_authenticate(UserFactory(role="crew"))
    assert client.get("/api/my-calendar/").status_code == 404
    made = client.post("/api/my-calendar/")
    assert made.status_code == 201
    path = made.json()["address"].removeprefix("http://localhost:8000")
    assert Client().get(path).status_code == 200
    assert client.get("/api/my-calendar/").json()["address"] == made.json()["address"]
    assert client.delete("/api/my-calendar/").status_code == 204
    assert Client().get(path).status_code == 404


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_a_link_is_made_and_taken_back_on_a_telephone(open_page):
    page = open_page("phone", working_nursery().grower)
    page.goto("/")
    follow(page, page.get_by_role("link", name="Your calendar"))
    assert_holds(page)
    follow(page, page.get_by_role("button", name="Make a link"))
    link = CalendarLink.objects.get()
    page.get_by_text(f"/calendar/{link.token}.ics").wait_for()
    assert_holds(page)
    follow(page, page.get_by_role("button", name="Take the link back"))
    assert not CalendarLink.objects.exists()
