"""The pages of work: Today, a sweep, a batch, a place, ready, notice, hand-over, seed; and who may open them."""

import datetime as dt
import uuid

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from orders.models import Job
from production.models import Count, Part, Place, Stay, Work
from production.services.promise import accept
from production.services.readiness import declare_ready


@pytest.fixture
def clock(ground):
    """The clock of the pages, moved to the ground's day at noon."""
    with time_machine.travel(dt.datetime(2027, 1, 11, 12, tzinfo=dt.UTC), tick=False) as traveller:
        ground.travel = lambda day: (
            setattr(ground, "today", day),
            traveller.move_to(dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC)),
        )
        yield ground


@pytest.fixture
def sowing_day(clock):
    clock.lots()
    clock.line_ = clock.line()
    clock.part_ = clock.part(clock.line_)
    clock.travel(clock.work(clock.part_, "sow", "scion").day)
    return clock


@pytest.fixture
def ready(clock):
    clock.lots()
    clock.line_ = clock.line()
    clock.part_ = clock.grow_to_ready(clock.part(clock.line_))
    clock.travel(clock.today)
    return clock


def get(client, user, name, *args, **query):
    client.force_login(user)
    return client.get(reverse(name, args=args), query)


def post(client, user, name, *args, **data):
    client.force_login(user)
    return client.post(reverse(name, args=args), data, follow=True)


def text(response):
    return " ".join(response.content.decode().split())


# --- today ----------------------------------------------------------------------------------------------------


def test_an_empty_nursery_says_what_belongs_on_today(clock, client):
    page = get(client, clock.grower, "today")
    assert page.status_code == 200
    assert "Take an order" in text(page)


def test_today_shows_what_to_sow_with_quantity_place_and_hours(sowing_day, client):
    page = text(get(client, sowing_day.grower, "today"))
    assert "Sow Tallis Red" in page
    assert "Germination chamber" in page
    assert "2 things to do" in page
    assert reverse("day_sheet_paper", args=[sowing_day.today]) in page


def test_work_is_recorded_with_its_number_and_shown_as_done(sowing_day, client):
    work = sowing_day.work(sowing_day.part_, "sow", "scion")
    page = post(client, sowing_day.crew, "work_done", work.pk, count=88, key=uuid.uuid4())
    assert "Recorded: Sow, 88." in text(page)
    assert Count.objects.get().quantity == 88
    assert Count.objects.get().by == "bo"
    assert "Recorded today" in text(page)


def test_a_refused_number_says_why_beside_the_work(sowing_day, client):
    work = sowing_day.work(sowing_day.part_, "sow", "scion")
    page = post(client, sowing_day.crew, "work_done", work.pk, count=5000)
    assert page.status_code == 422
    assert "No lot of Tallis Red has 5000 seeds left; the fullest has 1000." in text(page)
    assert not Count.objects.exists()


def test_everything_as_planned_except_one_number(sowing_day, client):
    scion, rootstock = (sowing_day.work(sowing_day.part_, "sow", side) for side in ("scion", "rootstock"))
    part = scion.part_of_day
    assert "All as planned, except" in text(get(client, sowing_day.grower, "today"))
    form = get(client, sowing_day.grower, "today_part", part)
    assert f'name="n-{scion.pk}"' in form.content.decode()
    data = {
        "work": [scion.pk, rootstock.pk],
        f"done-{scion.pk}": "1",
        f"n-{scion.pk}": "77",
        f"done-{rootstock.pk}": "1",
        f"n-{rootstock.pk}": "",
        "key": str(uuid.uuid4()),
    }
    for _ in range(2):
        page = post(client, sowing_day.grower, "today_part", part, **data)
    assert page.status_code == 200
    assert sorted(Count.objects.values_list("quantity", flat=True)) == sorted([77, rootstock.sowing.seeds])


def test_a_fault_in_a_sweep_keeps_what_was_written(sowing_day, client):
    scion = sowing_day.work(sowing_day.part_, "sow", "scion")
    data = {"work": scion.pk, f"done-{scion.pk}": "1", f"n-{scion.pk}": "5000"}
    page = post(client, sowing_day.grower, "today_part", scion.part_of_day, **data)
    assert page.status_code == 422
    assert "the fullest has 1000" in text(page)
    assert 'value="5000"' in page.content.decode()
    assert not Count.objects.exists()


def test_unticked_work_stays_to_do(sowing_day, client):
    scion = sowing_day.work(sowing_day.part_, "sow", "scion")
    post(client, sowing_day.grower, "today_part", scion.part_of_day, work=scion.pk)
    assert not Count.objects.exists()


def test_not_today(sowing_day, client):
    work = sowing_day.work(sowing_day.part_, "sow", "scion")
    page = post(client, sowing_day.crew, "work_put_off", work.pk)
    assert "put off to" in text(page)
    assert Work.objects.get(pk=work.pk).day > sowing_day.today


def test_opening_today_rolls_yesterdays_work_over(sowing_day, client):
    sowing_day.travel(sowing_day.today + dt.timedelta(days=1))
    page = text(get(client, sowing_day.grower, "today"))
    assert "2 late" in page
    assert "Was due yesterday" in page


def test_sowing_that_waits_for_the_customers_seed_stands_apart(clock, client):
    clock.lot(clock.rootstock)
    due = clock.today + dt.timedelta(days=40)
    line = clock.line(scion_seed="customers", scion_seed_expected=due)
    clock.travel(clock.work(clock.part(line), "sow", "scion").day)
    page = text(get(client, clock.grower, "today"))
    assert "Waiting" in page
    assert "Sowing waits for the customer&#x27;s seed, expected Sat 20 February." in page


def test_without_script_a_post_still_answers_with_the_whole_page(sowing_day, client):
    work = sowing_day.work(sowing_day.part_, "sow", "scion")
    client.force_login(sowing_day.crew)
    plain = client.post(reverse("work_done", args=[work.pk]), {"count": 80})
    assert plain.status_code == 302
    other = sowing_day.work(sowing_day.part_, "sow", "rootstock")
    part = client.post(reverse("work_done", args=[other.pk]), {"count": 80}, headers={"HX-Request": "true"})
    assert part.status_code == 200
    assert "<html" not in part.content.decode()
    assert "<h1>Today</h1>" in part.content.decode()


def test_another_day_can_be_looked_at(sowing_day, client):
    later = sowing_day.work(sowing_day.part_, "graft").day
    page = text(get(client, sowing_day.crew, "day", later))
    assert "Graft Order" in page


# --- one batch, one place -------------------------------------------------------------------------------------


def test_a_batch_shows_where_it_stands_and_how_it_thins(ready, client):
    page = text(get(client, ready.crew, "batch", ready.part_.batch.code))
    assert "Pickup corner" in page or "Long bench" in page
    assert "did not come up" in page
    assert "did not take" in page
    assert "thin-plants" in page


def test_a_loss_is_recorded_with_its_reason(ready, client):
    alive = ready.part_.counts.get(kind="taken").quantity
    number = f"part{ready.part_.pk}"
    data = {f"{number}-part": ready.part_.pk, f"{number}-kind": "lost", f"{number}-sowing": ""}
    at = ("batch_count", ready.part_.batch.code, 1)
    page = post(client, ready.crew, *at, **data, **{f"{number}-quantity": 4})
    assert page.status_code == 422
    assert "Say why they were lost." in text(page)
    page = post(client, ready.crew, *at, **data, **{f"{number}-quantity": alive + 1, f"{number}-reason": "frost"})
    assert page.status_code == 422
    page = post(client, ready.crew, *at, **data, **{f"{number}-quantity": 4, f"{number}-reason": "frost"})
    assert page.status_code == 200
    assert "frost" in text(page)
    assert Count.objects.get(kind="lost").quantity == 4


def test_a_count_is_corrected_and_both_numbers_stay(ready, client):
    count = ready.part_.counts.get(kind="taken")
    page = post(client, ready.crew, "count_correct", count.pk, quantity=count.quantity - 5, reason="miscounted")
    assert f"{count.quantity - 5} stands in place of {count.quantity} now." in text(page)
    assert Count.objects.filter(kind="taken").count() == 2
    page = post(client, ready.crew, "count_correct", count.pk, quantity=1)
    assert page.status_code == 422
    assert "was corrected to" in text(page)


def test_trays_are_put_together(ready, client):
    stay = Stay.objects.get(part=ready.part_, entered=True, left=False)
    page = post(client, ready.crew, "stand_regroup", stay.pk, containers=1, place=stay.place_id)
    assert page.status_code == 422
    assert "need at least" in text(page)


def test_a_place_shows_each_night_against_its_room(ready, client):
    stay = Stay.objects.get(part=ready.part_, entered=True, left=False)
    page = text(get(client, ready.crew, "place", stay.place_id))
    assert "Tonight" in page
    assert "Order 1" in page
    assert "<meter" in page


def test_plants_that_should_have_moved_on_are_said_to(ready, client):
    stay = Stay.objects.get(part=ready.part_, entered=True, left=False)
    Stay.objects.filter(pk=stay.pk).update(first=ready.today - dt.timedelta(days=9), nights=3)
    page = text(get(client, ready.crew, "place", stay.place_id))
    assert "should have moved on" in page


def test_own_crop_is_named_among_the_batches(clock, client):
    clock.lots()
    line = clock.asked(own_crop=True)
    accept(order=line.order, by=clock.grower, today=clock.today)
    assert f"{line}, our own crop" in text(get(client, clock.crew, "batches"))


def test_the_list_of_batches(ready, client):
    assert ready.part_.batch.code in text(get(client, ready.crew, "batches"))
    assert ready.part_.batch.code not in text(get(client, ready.crew, "batches", gone=""))


# --- ready, notice, gone -----------------------------------------------------------------------------------------


def test_from_ready_over_the_notice_to_gone(ready, client):
    line = ready.line_
    page = post(client, ready.grower, "line_ready", line.pk, quantity=50, key=uuid.uuid4())
    assert "50 plants are ready: 10 fewer than the 60 ordered." in text(page)
    post(client, ready.clerk, "line_notice", line.pk)
    post(client, ready.clerk, "line_notice", line.pk)
    assert Job.objects.get(kind="pickup_notice").payload["short"] == 10
    assert "was sent already" in text(get(client, ready.clerk, "line_notice", line.pk))

    key = uuid.uuid4()
    for _ in range(2):
        page = post(client, ready.clerk, "line_hand_over", line.pk, quantity=30, key=key)
    line.refresh_from_db()
    assert (line.state, line.collected_quantity) == ("ready", 30)
    page = post(client, ready.crew, "line_hand_over", line.pk, quantity=20, close_short="on")
    assert page.status_code == 422
    assert "Say why." in text(page).split("<details open>")[1]
    page = post(client, ready.crew, "line_hand_over", line.pk, quantity=21)
    assert page.status_code == 422
    post(client, ready.crew, "line_hand_over", line.pk, quantity=20, close_short="on", reason="fewer came up",
         spare_too="on")  # fmt: skip
    line.refresh_from_db()
    assert (line.state, line.collected_quantity) == ("collected", 50)
    part = Part.objects.get()
    assert part.state == "gone"
    assert not Stay.objects.filter(left=False).exists()


def test_ready_plants_stand_on_today_until_they_are_gone(ready, client):
    line = ready.line_
    hand_over = reverse("line_hand_over", args=[line.pk])
    declare_ready(line=line, quantity=60, by=ready.grower, today=ready.today)
    assert hand_over in text(get(client, ready.crew, "today"))
    post(client, ready.crew, "line_hand_over", line.pk, quantity=20)
    left = get(client, ready.crew, "today")
    assert hand_over in text(left)
    [task] = [task for task in left.context["sheet"].tasks if task.work.kind == "hand_over"]
    assert (task.figure, task.unit) == (40, "plants"), "what was fetched is no longer to hand over"
    post(client, ready.crew, "line_hand_over", line.pk, quantity=40)
    assert hand_over not in text(get(client, ready.crew, "today"))


def test_a_line_of_which_no_more_will_come_is_closed_with_a_reason(ready, client):
    line = ready.line_
    declare_ready(line=line, quantity=40, by=ready.grower, today=ready.today)
    post(client, ready.clerk, "line_hand_over", line.pk, quantity=40)
    assert "Close it short" in text(get(client, ready.clerk, "line_plan", line.pk))
    page = text(get(client, ready.clerk, "line_hand_over", line.pk))
    assert "40 of 60 were collected, and no more are ready." in page
    page = post(client, ready.clerk, "line_hand_over", line.pk, quantity=0, close_short="on")
    assert page.status_code == 422
    assert "Say why." in text(page)
    page = post(client, ready.clerk, "line_hand_over", line.pk, quantity=0, close_short="on", reason="frost")
    assert "The line is collected; it can be billed." in text(page)
    line.refresh_from_db()
    assert (line.state, line.collected_quantity, line.ended_reason) == ("collected", 40, "frost")


def test_room_for_nights_ends_from_the_orders_page(clock, client):
    day = clock.today + dt.timedelta(days=7)
    line = clock.line(
        kind="room", scion=None, rootstock=None, quantity=4, container=clock.nursery.tray,
        room_place_kind="healing", room_nights=4, pickup_asked=day + dt.timedelta(days=4),
    )  # fmt: skip
    clock.travel(day)
    get(client, clock.grower, "today")  # the first night begins by itself
    assert reverse("line_hand_over", args=[line.pk]) in text(get(client, clock.clerk, "line_plan", line.pk))
    assert "The trays are gone" in text(get(client, clock.clerk, "line_hand_over", line.pk))
    post(client, clock.clerk, "line_hand_over", line.pk, quantity=4)
    line.refresh_from_db()
    assert (line.state, line.collected_quantity) == ("collected", 4)
    assert Part.objects.get().state == "gone"


def test_the_order_leads_to_the_notice_and_the_hand_over(ready, client):
    line = ready.line_
    notice, hand_over, count = (
        reverse(name, args=[line.pk]) for name in ("line_notice", "line_hand_over", "line_ready")
    )
    plan = text(get(client, ready.grower, "line_plan", line.pk))
    assert count in plan
    assert notice not in plan
    assert hand_over not in plan
    declare_ready(line=line, quantity=60, by=ready.grower, today=ready.today)
    plan = text(get(client, ready.clerk, "line_plan", line.pk))
    assert notice in plan
    assert hand_over in plan
    assert count not in plan  # the office counts nothing
    post(client, ready.clerk, "line_notice", line.pk)
    plan = text(get(client, ready.clerk, "line_plan", line.pk))
    assert notice not in plan
    assert "The pickup notice for these 60 plants was sent." in plan


def test_spare_plants_stand_on_until_somebody_says_they_are_gone(ready, client):
    line = ready.line_
    growing_on = Part.objects.get()
    declare_ready(line=line, quantity=60, by=ready.grower, today=ready.today)
    post(client, ready.clerk, "line_hand_over", line.pk, quantity=60)
    growing_on.refresh_from_db()
    line.refresh_from_db()
    assert line.state == "collected"
    stay = Stay.objects.get(entered=True, left=False)
    spare = growing_on.counts.get(kind="taken").quantity - 60
    assert spare > 0
    assert stay.containers == -(-spare // stay.container.plants)
    page = post(client, ready.crew, "part_clear", growing_on.pk, reason="thrown away")
    assert "is gone; its room is free" in text(page)
    assert not Stay.objects.filter(left=False).exists()


def test_seed_is_traced_back_and_forward(ready, client):
    declare_ready(line=ready.line_, quantity=55, by=ready.grower, today=ready.today)
    post(client, ready.clerk, "line_hand_over", ready.line_.pk, quantity=55)
    sowing = ready.part_.sowings.get(subject="scion")
    back = text(get(client, ready.crew, "line_trace", ready.line_.pk))
    assert f">{sowing.lot}</a>" in back
    forward = text(get(client, ready.clerk, "lot_trace", sowing.lot.pk))
    assert ready.line_.order.customer.name in forward
    assert ">55</td>" in forward


# --- who may ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "who"),
    [
        ("today", {"grower", "clerk", "crew"}),
        ("today_part", {"grower", "crew"}),
        ("day", {"grower", "clerk", "crew"}),
        ("batches", {"grower", "clerk", "crew"}),
        ("batch", {"grower", "clerk", "crew"}),
        ("place", {"grower", "clerk", "crew"}),
        ("line_ready", {"grower", "crew"}),
        ("line_notice", {"grower", "clerk"}),
        ("line_hand_over", {"grower", "clerk", "crew"}),
        ("line_trace", {"grower", "clerk", "crew"}),
        ("standing", {"grower"}),
    ],
)
def test_who_may_open_what(sowing_day, client, name, who):
    args = {
        "today_part": ["day"],
        "day": [sowing_day.today + dt.timedelta(days=1)],
        "batch": [sowing_day.part_.batch.code],
        "place": [Place.objects.first().pk],
    }.get(name, [sowing_day.line_.pk] if name.startswith("line_") else [])
    may = set()
    for person in ("grower", "clerk", "crew", "stranger"):
        response = get(client, getattr(sowing_day, person), name, *args)
        assert response.status_code in (200, 302, 403)
        may |= {person} if response.status_code != 403 else set()
    assert may == who


def test_the_office_records_no_work(sowing_day, client):
    work = sowing_day.work(sowing_day.part_, "sow", "scion")
    assert post(client, sowing_day.clerk, "work_done", work.pk, count=5).status_code == 403
    assert 'name="count"' not in text(get(client, sowing_day.clerk, "today"))


def test_today_needs_as_many_queries_for_much_as_for_little(sowing_day, client):
    client.force_login(sowing_day.grower)
    client.get("/")
    with CaptureQueriesContext(connection) as little:
        client.get("/")
    for _ in range(2):
        sowing_day.line(quantity=20, pickup_asked=dt.date(2027, 5, 5))
    Work.objects.filter(kind="sow").update(day=sowing_day.today)
    with CaptureQueriesContext(connection) as much:
        page = client.get("/")
    assert "6 things to do" in text(page)
    assert len(much) == len(little) < 40
