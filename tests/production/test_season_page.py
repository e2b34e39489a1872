"""The season page: zooms, the grid and its boxes, strands with limits, conflicts, and how little it reads."""

import gzip
from datetime import date, timedelta
from urllib.parse import parse_qsl

import pytest
import time_machine
from django.urls import reverse

from orders import services as orders
from orders.models import Order, OrderLine
from production.models import Part, Place, Stay, Work
from production.season.carried import carried
from production.season.scope import scope_of
from production.services import promise
from tests.factories import CustomerFactory
from tests.nursery import TODAY

from .crowd import crowd
from .growing import Ground

pytestmark = pytest.mark.django_db
PICKUP = date(2027, 4, 21)
AT_MOST = 42  # queries of any zoom, however large the season


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(TODAY):
        yield


def promised(ground: Ground, quantity: int) -> None:
    line = ground.nursery.line(quantity=quantity, later=0, pickup_asked=PICKUP)
    order = orders.take_order(customer=CustomerFactory(), lines=[line], by=ground.grower, today=TODAY)
    promise.accept(order=order, by=ground.grower, today=TODAY, over_conflict="to see it")


@pytest.fixture
def season(ground: Ground) -> Ground:
    """Three lines that together ask the chamber of twelve for more than it holds."""
    for quantity in (60, 400, 400):
        promised(ground, quantity)
    return ground


@pytest.fixture
def page(client, season):
    client.force_login(season.grower)

    def get(**query):
        return client.get(reverse("season"), query)

    return get


def healing() -> Place:
    return Place.objects.get(name="Healing chamber")


def heal_day() -> date:
    return Stay.objects.filter(place=healing()).earliest("first").first


@pytest.mark.parametrize(
    ("view", "first", "last"),
    [
        ("year", date(2026, 12, 14), date(2027, 12, 12)),
        ("weeks", date(2026, 12, 28), date(2027, 3, 28)),
        ("week", date(2027, 1, 11), date(2027, 1, 17)),
        ("day", date(2027, 1, 11), date(2027, 1, 11)),
    ],
)
def test_each_zoom_holds_today_and_whole_weeks(view, first, last):
    scope = scope_of(view, None, today=TODAY)
    assert (scope.first, scope.last) == (first, last)
    assert scope.has_today


def test_zooms_step_by_what_they_show_and_keep_the_box():
    scope = scope_of("week", date(2027, 3, 17), today=TODAY, at="place-3")
    assert scope.first == date(2027, 3, 15)
    assert scope.previous == "view=week&day=2027-03-08&at=place-3"
    assert scope.next == "view=week&day=2027-03-22&at=place-3"
    assert dict(scope.zooms)["day"] == "view=day&day=2027-03-15&at=place-3"


def test_a_week_begins_on_the_nurserys_day():
    assert scope_of("week", date(2027, 3, 17), today=TODAY, begins=6).first == date(2027, 3, 14)


def test_a_day_names_each_order_once_in_a_place_and_its_work_in_turn(page):
    sown = Work.objects.filter(kind="sow").order_by("day").first()
    view = page(view="day", day=sown.day.isoformat()).context["shown"].day
    rooms = [room for room in view.rooms if room.stands]
    assert rooms, "scions and rootstocks stand there"
    for room in rooms:
        parts = [stand.part.pk for stand in room.stands]
        assert len(parts) == len(set(parts))
    coming = [(stand.part.pk, stand.stay.place_id) for stand in view.comes]
    assert len(coming) == len(set(coming))
    busy = Work.objects.filter(part_of_day="morning", day__in=Work.objects.filter(part_of_day="day").values("day"))
    jobs = page(view="day", day=busy.first().day.isoformat()).context["shown"].day.jobs
    turns = [["morning", "day", "evening"].index(job.work.part_of_day) for job in jobs]
    assert turns == sorted(turns)


@pytest.mark.parametrize("query", [{}, {"view": "year"}, {"view": "week"}, {"view": "day"}])
def test_every_zoom_shows_its_days(page, query):
    answer = page(**query)
    assert answer.status_code == 200
    assert "Healing chamber" in answer.content.decode()


def test_a_box_says_its_peak_of_its_capacity_and_opens_the_week_at_the_place(page):
    place, day = healing(), heal_day()
    shown = page(day=day.isoformat())
    box = f'href="?view=week&amp;day={day - timedelta(days=day.weekday())}&amp;at=place-{place.pk}"'
    assert box in shown.content.decode()
    opened = page(view="week", day=day.isoformat(), at=f"place-{place.pk}").context["shown"]
    amounts = [float(each.amount) for each in opened.stands]
    assert amounts == sorted(amounts, reverse=True)
    assert [row.label for row in opened.sheet.rows] == ["Healing chamber"]
    assert len(opened.sheet.rows[0].boxes) == 7
    assert max(box.load for box in opened.sheet.rows[0].boxes) > 12
    assert [line.url for line in opened.sheet.lines]


def test_hands_open_as_places_do(page):
    day = heal_day()
    rows = page(view="week", day=day.isoformat()).context["shown"].sheet.rows
    hands = next(row for row in rows if row.label.startswith("Hands"))
    at = hands.boxes[0].url.split("at=")[1].replace("%2C", ",").replace("+", " ")
    opened = page(view="week", day=day.isoformat(), at=at).context["shown"]
    assert opened.stands.paginator.count == 3
    assert all(each.amount.endswith(" h") for each in opened.stands)


def test_a_day_says_what_stands_where_and_who_does_what(page):
    day = heal_day()
    shown = page(view="day", day=day.isoformat())
    view = shown.context["shown"].day
    room = next(room for room in view.rooms if room.name == "Healing chamber")
    assert room.over
    assert {stand.stay.place.name for stand in view.comes} >= {"Healing chamber"}
    assert {job.work.kind for job in view.jobs} >= {"graft"}
    assert "Grafting" in " ".join(job.skills for job in view.jobs)


def test_the_span_is_loaded_as_the_whole_season_is(season):
    """Against the load of everything: what is read for the shown days alone must not say otherwise."""
    from production import bridge
    from production.planning.load import Load

    whole = Load(bridge.season_of(TODAY))
    scope = scope_of("week", heal_day(), today=TODAY)
    load = carried(scope, season.nursery.nursery).load
    for place, row in load.row.items():
        for day in scope.each_day:
            assert load.used[row, load.index(day)] == whole.used[whole.row[place], whole.index(day)]
    for index, skills in enumerate(load.sets):
        same = next(n for n, each in enumerate(whole.sets) if each.holders == skills.holders)
        for day in scope.each_day:
            assert load.asked[index, load.index(day)] == pytest.approx(whole.asked[same, whole.index(day)])


def test_a_conflict_is_told_with_all_its_nights_even_where_the_shown_days_cut_it(season):
    all_year = carried(scope_of("year", None, today=TODAY), season.nursery.nursery).conflicts
    chamber = next(each for each in all_year if each.resource == "place")
    cut = carried(scope_of("day", chamber.last, today=TODAY), season.nursery.nursery).conflicts
    assert chamber in cut


def test_what_really_stood_is_shown_of_days_past(season):
    part = season.part(OrderLine.objects.first())
    season.lots()
    season.sow(part)
    later = season.today + timedelta(days=10)
    scope = scope_of("weeks", None, today=later)
    load = carried(scope, season.nursery.nursery).load
    sown = Stay.objects.filter(part=part, entered=True).earliest("first")
    row = load.row[str(sown.place_id)]
    assert load.used[row, load.index(sown.first)] >= sown.load


@pytest.mark.parametrize(
    ("query", "count"), [({}, 3), ({"order": "nothing"}, 0), ({"in_conflict": "on"}, 3), ({"crop": "1000000"}, 3)]
)
def test_strands_are_those_asked_for(page, query, count):
    shown = page(day=heal_day().isoformat(), **query).context["shown"]
    assert shown.batches.paginator.count == count


def test_strands_of_one_order(page):
    code = Order.objects.first().code
    assert page(day=heal_day().isoformat(), order=code).context["shown"].batches.paginator.count == 1


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"day": "soon"}, "day"),
        ({"day": "1999-01-01"}, "day"),
        ({"at": "shed"}, "at"),
        ({"view": "decade"}, "view"),
    ],
)
def test_what_cannot_be_shown_is_said_and_the_weeks_around_today_are_shown(page, query, field):
    answer = page(**query)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert answer.context["shown"].scope.has_today


def test_a_place_that_is_not_there_shows_nothing(page):
    answer = page(at="place-99999")
    assert answer.status_code == 200
    assert not answer.context["shown"].sheet.rows


def test_the_operation_gives_the_same_days(client, season):
    client.force_login(season.grower)
    day = heal_day().isoformat()
    at = f"place-{healing().pk}"
    said = client.get(reverse("api_season"), {"view": "week", "day": day, "at": at}).json()
    chamber = next(place for place in said["places"] if place["at"] == at)
    assert max(night["load"] for night in chamber["nights"]) > 12
    assert said["conflicts"]
    assert said["stands_in_all"] == len(said["stands"]) == 3
    refused = client.get(reverse("api_season"), {"day": "soon"})
    assert refused.status_code == 400
    assert refused.json()["faults"][0]["field"] == "day"


# --- how little it reads --------------------------------------------------------------------------------------


@pytest.mark.parametrize("view", ["year", "weeks", "week", "day"])
def test_queries_do_not_grow_with_the_season(page, season, view, django_assert_max_num_queries):
    query = {"view": view, "day": heal_day().isoformat()}
    with django_assert_max_num_queries(AT_MOST) as few:
        page(**query)
    for _n in range(6):
        promised(season, 20)
    with django_assert_max_num_queries(len(few)) as more:
        page(**query)
    assert len(more) <= len(few)


@pytest.mark.parametrize("view", ["year", "weeks", "week", "day", "box"])
def test_a_page_stays_light_however_many_batches_there_are(page, season, view):
    """The page itself, packed as it travels; style and script weigh the rest (tests/house/test_parts.py)."""
    crowd(Part.objects.filter(plants=60).first(), 400, over_days=60)
    query = {"view": view, "day": heal_day().isoformat()}
    if view == "box":
        query |= {"view": "week", "at": f"place-{healing().pk}"}
    html = page(**query).content
    assert len(gzip.compress(html)) < 30_000
    assert len(html) < 250_000


@pytest.mark.parametrize(("view", "opened"), [("year", 1), ("weeks", 1), ("week", 0), ("day", 0)])
def test_a_conflict_stands_open_only_where_it_pushes_no_asked_for_week_or_day_away(page, view, opened):
    html = page(view=view, day=heal_day().isoformat()).content.decode()
    assert html.count('<details class="answer no"') >= 1
    assert html.count(" open data-wide>") == opened


def test_a_year_ends_some_weeks_after_the_last_thing_that_stands_and_its_address_goes_on(page):
    shown = page(view="year").context["shown"]
    worked = [
        n
        for n, week in enumerate(zip(*(row.boxes for row in shown.sheet.rows), strict=True))
        if any(box.load for box in week)
    ]
    assert len(shown.sheet.weeks) == worked[-1] + 1 + 4
    assert shown.free == shown.sheet.weeks[-1] + timedelta(weeks=1)
    assert not Stay.objects.filter(first__gte=shown.free).exists()
    next_year = page(**dict(parse_qsl(shown.scope.next))).context["shown"]
    assert next_year.scope.first == shown.scope.last + timedelta(days=1)
    assert len(next_year.sheet.weeks) == 12


def test_no_conflict_leads_to_the_page_one_is_on(page):
    pinch = page(view="week", day=heal_day().isoformat()).context["shown"].pinches[0]
    there = dict(parse_qsl(pinch.box))
    shown = page(**there)
    assert [each.box for each in shown.context["shown"].pinches if each.key == pinch.key] == [""]
    assert "The week, and all that stand in it" not in shown.content.decode()
    assert page(**there | {"view": "day"}).context["shown"].pinches[0].box == pinch.box


@pytest.mark.parametrize("view", ["year", "weeks", "week", "day"])
@pytest.mark.parametrize("day", ["2000-01-01", "2024-12-02", "2100-12-31"])
def test_days_far_away_are_only_empty(page, view, day):
    answer = page(view=view, day=day)
    assert answer.status_code == 200
    assert not answer.context["shown"].pinches
    assert not [box for row in answer.context["shown"].sheet.rows for box in row.boxes if box.load]


@pytest.mark.parametrize("at", ["hands-", "hands-,", "hands-:", "hands-no such skill", "hands-%%%", "place-0"])
def test_an_address_made_up_shows_nothing_and_breaks_nothing(page, at):
    assert page(at=at).status_code in (200, 422)
    assert page(view="day", at=at).status_code in (200, 422)
