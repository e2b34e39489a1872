"""Charts of the season: what is drawn is what table, file and API say. Seed to buy is worked by hand."""

import csv
import io
import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from pypdf import PdfReader
from rest_framework.test import APIClient

from orders import states
from orders.models import Nursery, OrderLine
from production.models import Part, Place, Sowing
from production.papers import season_sheet
from production.season.charts import Chart, Loads, load_chart, loads, pickup_chart, pickups
from production.season.scope import scope_of
from production.season.seed import buying, by_week, seed_chart, seed_needs
from production.sheet import Box, Row
from production.templatetags.charts import chart
from tests.browser import assert_holds
from tests.factories import CustomerFactory
from tests.nursery import TODAY

from .growing import ground

pytestmark = pytest.mark.django_db
MONDAY = TODAY


@pytest.fixture
def on(time_machine):
    time_machine.move_to(f"{TODAY}T09:00:00Z", tick=False)
    return ground()


def year():
    return scope_of("year", None, today=TODAY)


def rows_of_file(client, which: str) -> list[dict[str, str]]:
    answer = client.get(reverse("season_charts"), {"list": which})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


# --- loads ----------------------------------------------------------------------------------------------------


def test_the_load_of_a_week_is_that_of_its_tightest_night_and_what_is_too_much_is_drawn_apart(client, on):
    on.lots()
    part = on.part(on.line())
    chamber = Place.objects.get(name="Healing chamber")
    stay = part.stays.get(place=chamber)
    Place.objects.filter(pk=chamber.pk).update(capacity=stay.load - 0.5)
    of = loads(year(), on.nursery.nursery)
    [row] = [row for row in of.rows if row.label == "Healing chamber"]
    week = stay.first - timedelta(days=stay.first.weekday())
    [box] = [box for box in row.boxes if box.week == week]
    assert (box.load, box.over) == (stay.load, pytest.approx(0.5))

    client.force_login(on.crew)
    page = client.get(reverse("season_charts")).content.decode()
    assert 'fill="url(#fill-over)"' in page
    assert "too much in" in page
    api = APIClient()
    api.force_authenticate(on.crew)
    said = {row["name"]: row["weeks"] for row in api.get("/api/season/charts/").json()["load"]}
    assert {"week": week.isoformat(), "load": box.load, "capacity": box.capacity} in said["Healing chamber"]
    [of_file] = [
        row
        for row in rows_of_file(client, "load")
        if (row["Place or hands"], row["Week of"]) == ("Healing chamber", week.isoformat())
    ]
    assert (float(of_file["Taken at the tightest"]), float(of_file["Too much"])) == (box.load, 0.5)


def chart_of(*boxes: tuple[float, float]) -> Chart:
    weeks = [TODAY + timedelta(weeks=n) for n in range(len(boxes))]
    row = Row("Bench", "8 trays", tuple(Box(week, *box) for week, box in zip(weeks, boxes, strict=True)))
    return load_chart(Loads(tuple(weeks), (row,)), TODAY)


def test_the_highest_bar_and_the_tightest_week_are_told_each_by_its_name():
    assert chart_of((3.5, 8), (0.1, 0)).lanes[0].says == (
        "8 trays; most 3.5 of 8 in the week of Mon 11 January; tightest in the week of Mon 18 January, 0.1 of 0;"
        " too much in 1 week"
    )
    [lane] = chart_of((9, 8), (9, 10)).lanes
    assert lane.says == "8 trays; most 9 of 8 in the week of Mon 11 January; too much in 1 week"


@pytest.mark.parametrize("load", [0.5, 4, 6, 6.5, 7, 7.5, 7.9, 8, 9])
def test_no_limit_strikes_a_number_through(load):
    [(_lane, drawn)] = chart(chart_of((load, 8), (1, 9), (2, 7.6), *[(1, 8)] * 9))["lanes"]
    foot = float(drawn["said"][0].y)
    for limit in drawn["limits"][:2]:  # of its own week and of the next
        assert not foot - 12 < float(limit.y) < foot


# --- orders ---------------------------------------------------------------------------------------------------


def test_plants_are_counted_in_the_week_of_their_pickup_and_only_those_that_somebody_is_promised(client, on):
    on.line(quantity=20, pickup_asked=date(2027, 4, 21))
    on.line(quantity=30, pickup_asked=date(2027, 4, 22))
    on.asked(quantity=7, pickup_asked=date(2027, 4, 22))
    on.asked(quantity=9, own_crop=True)
    held = on.line(quantity=5, pickup_asked=date(2027, 5, 6))
    OrderLine.objects.filter(pk=held.pk).update(state=states.HELD, hold_until=TODAY)
    found = pickups(year())
    assert found.crops == ("Tomato",)
    weeks = {week.week: (week.total, week.orders) for week in found.weeks if week.total}
    april = OrderLine.objects.filter(quantity__in=(20, 30)).order_by("pickup")
    assert {line.pickup - timedelta(days=line.pickup.weekday()) for line in april} == {date(2027, 4, 19)}
    assert weeks == {date(2027, 4, 19): (50, 2), date(2027, 5, 3): (5, 1)}
    client.force_login(on.clerk)
    assert rows_of_file(client, "pickups") == [
        {"Week of": "2027-04-19", "Crop": "Tomato", "Plants": "50"},
        {"Week of": "2027-05-03", "Crop": "Tomato", "Plants": "5"},
    ]


def test_bars_are_as_high_as_their_numbers(on):
    on.line(quantity=20, pickup_asked=date(2027, 4, 21))
    on.line(quantity=40, pickup_asked=date(2027, 5, 6))
    drawn = chart(pickup_chart(pickups(year()), TODAY))["lanes"][0][1]
    heights = [float(bar.h) for bar in drawn["bars"]]
    assert heights[0] * 2 == pytest.approx(heights[1], abs=0.2)
    assert [number.words for number in drawn["said"]] == ["40"]


# --- seed to buy ----------------------------------------------------------------------------------------------


def sowings(on, *asked: tuple[date, int]) -> None:
    """Sowings of the scion on these days, whatever the planner would have liked."""
    part = on.part(on.line())
    kept = part.sowings.get(subject="scion")
    Sowing.objects.filter(subject="rootstock").delete()
    for number, (day, seeds) in enumerate(asked, start=1):
        Sowing.objects.update_or_create(
            part=part,
            subject="scion",
            number=number,
            defaults={
                "code": f"S{number}x", "variety": on.scion, "container": kept.container, "trays": 1,
                "seeds": seeds, "day": day, "emerges": day,
            },
        )  # fmt: skip


def test_seed_in_hand_goes_to_the_earliest_sowing_and_a_lot_on_the_way_serves_from_its_day_on(on):
    """By hand: 100 in hand, 50 to come on 10 February. 80 on 1 February leave 20; of 60 on 5 February 40 are to
    buy; of 70 on 12 February 50 come, 20 are to buy."""
    on.lot(on.scion, 100)
    on.lot(on.scion, 50, received_on=None, expected_on=date(2027, 2, 10))
    on.lot(on.scion, 500, customer=CustomerFactory())  # not ours to sow for others
    sowings(on, (date(2027, 2, 1), 80), (date(2027, 2, 5), 60), (date(2027, 2, 12), 70))
    needs = seed_needs(TODAY)
    assert [(need.day.day, need.in_hand, need.coming, need.to_buy) for need in needs] == [
        (1, 80, 0, 0), (5, 20, 0, 40), (12, 0, 50, 20),
    ]  # fmt: skip
    on.scion.pack_seeds = 25
    on.scion.save()
    [each] = buying(seed_needs(TODAY))
    assert (each.what.seeds, each.what.packs, each.by) == (60, 3, date(2027, 2, 5))
    assert [(need.day.day, need.seeds, need.to_buy) for need in by_week(needs, 0)] == [(1, 140, 40), (12, 70, 20)]
    [lane] = seed_chart(needs, TODAY, 0).lanes
    assert [bar for bar in lane.bars if any(bar)] == [(100.0, 0.0, 40.0), (0.0, 50.0, 20.0)]
    assert "210 seeds needed, 60 of them to buy, the first by Fri 5 February" in lane.says


def test_what_was_sown_already_is_neither_needed_nor_in_hand(on):
    on.lots()
    part = on.part(on.line())
    wanted = {need.variety for need in seed_needs(TODAY)}
    assert wanted == {on.scion, on.rootstock}
    on.sow(part)
    assert seed_needs(on.today) == []


def test_what_the_customer_brings_and_what_is_only_held_is_not_to_buy(on):
    on.line(scion_seed="customers", rootstock_seed="customers")
    held = on.line()
    OrderLine.objects.filter(pk=held.pk).update(state=states.HELD, hold_until=TODAY)
    assert seed_needs(TODAY) == []
    OrderLine.objects.filter(pk=held.pk).update(state=states.CONFIRMED, hold_until=None)
    assert {need.to_buy == need.seeds for need in seed_needs(TODAY)} == {True}


def test_an_overdue_sowing_needs_its_seed_today(on):
    sowings(on, (TODAY - timedelta(days=4), 30))
    [need] = seed_needs(TODAY)
    assert (need.day, need.to_buy) == (TODAY, 30)


# --- the page -------------------------------------------------------------------------------------------------


def test_an_empty_nursery_has_a_page_as_well(client, on):
    client.force_login(on.grower)
    page = client.get(reverse("season_charts")).content.decode()
    assert "Nothing is promised for this year yet." in page
    assert "No sowing is planned." in page


def test_a_stranger_sees_no_charts_and_a_bad_day_shows_this_year(client, on):
    client.force_login(on.stranger)
    assert client.get(reverse("season_charts")).status_code == 403
    client.force_login(on.crew)
    assert client.get(reverse("season_charts"), {"day": "the ides"}).status_code == 200
    api = APIClient()
    api.force_authenticate(on.crew)
    assert api.get("/api/season/charts/?day=ides").json()["faults"][0]["field"] == "day"


@pytest.mark.parametrize("name", ["season_charts", "season_sheet_paper"])
def test_its_queries_do_not_grow_with_the_season(client, on, django_assert_max_num_queries, name):
    on.lots()
    client.force_login(on.grower)
    for _n in range(2):
        on.line(quantity=10)
    with django_assert_max_num_queries(40) as queries:
        client.get(reverse(name))
        few = len(queries)
    for _n in range(5):
        on.line(quantity=10)
    with django_assert_max_num_queries(few):
        client.get(reverse(name))


# --- the season sheet -----------------------------------------------------------------------------------------


@pytest.mark.papers
def test_the_season_sheet_lies_on_its_side_and_says_loads_conflicts_and_orders(client, on):
    on.lots()
    line = on.line(CustomerFactory(name="Long Field"))
    part = Part.objects.get(allocations__line=line)
    stay = part.stays.get(place__name="Healing chamber")
    Place.objects.filter(name="Healing chamber").update(capacity=0.5)
    client.force_login(on.crew)
    answer = client.get(reverse("season_sheet_paper"))
    assert answer["Content-Type"] == "application/pdf"
    paper = PdfReader(io.BytesIO(answer.content))
    width, height = (float(each) for each in paper.pages[0].mediabox[2:])
    assert (round(width), round(height)) == (842, 595)  # A4 (ISO 216), 210 by 297 mm, on its side
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in paper.pages))
    assert f"{stay.load:g} of 0.5" in text
    assert "Healing chamber, nights of" in text
    assert "Long Field" in text
    assert f"{line.quantity}, of 1 order" in text
    assert f"Week of Mon {(line.pickup - timedelta(days=line.pickup.weekday())).day} April" in text
    api = APIClient()
    api.force_authenticate(on.crew)
    assert api.get("/api/season/sheet/")["Content-Type"] == "application/pdf"


def test_of_many_lines_the_season_sheet_says_sums_and_where_each_is_named(on, monkeypatch):
    on.lots()
    lines = [on.line(quantity=10), on.line(quantity=20)]
    week = lines[0].pickup - timedelta(days=lines[0].pickup.weekday())
    for most, named, left_out in ((2, 2, 0), (1, 0, 2)):
        monkeypatch.setattr(season_sheet, "MOST", most)
        data = season_sheet.season_sheet_data(today=on.today, nursery=Nursery.current())
        assert (sum(len(of_week) for _week, of_week in data["pickups"]), data["left_out"]) == (named, left_out)
        (fetched,) = [row["fetched"] for row in data["weeks"] if row["week"] == week]
        assert (fetched.total, fetched.orders) == (30, 2)


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_charts_hold_at_both_sizes_and_each_is_one_stop_for_the_tab_key(open_page, on, page_size):
    on.lots()
    on.line()
    Place.objects.filter(name="Healing chamber").update(capacity=0.5)
    page = open_page(page_size, on.grower)
    page.goto(reverse("season"))
    page.get_by_role("link", name="Charts").click()
    page.get_by_role("heading", name="Seed to buy").wait_for()
    assert_holds(page)
    charts = page.locator("figure.chart")
    assert charts.count() == 3
    assert (
        charts.evaluate_all("all => all.map(one => one.querySelectorAll('a, button, [tabindex]').length)")
        == [0] * 3
    )
    sizes = page.locator(".chart text").evaluate_all(
        "all => all.map(t => parseFloat(getComputedStyle(t).fontSize))"
    )
    assert min(sizes) >= 12
    page.get_by_text("The same figures as a table").first.click()
    page.get_by_role("row", name=re.compile("of 0.5")).first.wait_for()
    assert_holds(page)
