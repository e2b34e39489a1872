"""Levelling the running season: a real job, moves taken in one transaction, by page and by API."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.db import connection, transaction
from django.db.models import F
from django.urls import reverse
from rest_framework.test import APIClient

from orders import jobs, states
from orders import services as orders
from orders.models import Job, OrderLine
from orders.refusals import Refused
from production import bridge
from production.models import Batch, Protocol, ProtocolStage, SeasonLevelling
from production.queries.levelled import cost_words
from production.services import answering, levelling, moving, promise, protocols
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, working_nursery

pytestmark = pytest.mark.django_db

THURSDAY = date(2027, 4, 22)  # the pickup that rigid stages, potted on an open day, can keep


@pytest.fixture
def working(time_machine):
    """A chamber of two trays, and stages that are never longer or shorter than usual."""
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    working = working_nursery(healing=2)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=1)
    return working


def taken(working, **changes) -> OrderLine:
    wanted = {"quantity": 80, "pickup_asked": THURSDAY, "later": 0, "earlier": 0, **changes}
    line = working.line(**wanted)
    order = orders.take_order(customer=CustomerFactory(), lines=[line], by=None, today=TODAY)
    return order.lines.get()


@pytest.fixture
def crowded(working):
    """A promised line that could come later, and one asked for that needs its place in the chamber."""
    first = taken(working, later=14)
    promise.accept(order=first.order, by=None, today=TODAY)
    second = taken(working)
    assert not answering.what_if([second], today=TODAY)[0].fits
    return first, second


def levelled(by=None) -> SeasonLevelling:
    run = levelling.start(by=by, today=TODAY)
    jobs.drain()
    run.refresh_from_db()
    return run


def key(line: OrderLine) -> str:
    return f"line:{line.pk}"


def test_a_run_finds_moves_and_moves_nothing(working, crowded):
    first, second = crowded
    batches = list(Batch.objects.values_list("code", flat=True))
    run = levelled(working.grower)
    assert (run.state, run.left_over) == ("done", [])
    moves = {row["key"]: row for row in run.moves}
    assert set(moves) == {key(first), key(second)}
    assert moves[key(second)]["needs"] == [key(first)]
    assert moves[key(first)]["tells"] > THURSDAY.isoformat()
    assert run.cost < run.before
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.pickup, second.state) == (THURSDAY, states.ASKED)
    assert list(Batch.objects.values_list("code", flat=True)) == batches


def test_what_is_left_over_says_why_and_what_would_do(working):
    """Two equal lines without latitude: two trays of grafts each, and a chamber of two."""
    promise.accept(order=taken(working).order, by=None, today=TODAY)
    second = taken(working)
    run = levelled()
    [left] = run.left_over
    assert left["label"] == str(second)
    [why] = left["why"]
    assert why.startswith("Healing chamber, nights of ")
    assert why.endswith("4 tray places wanted, 2 there. 2 more would do.")


def test_a_move_is_taken_with_the_one_it_needs(working, crowded):
    first, second = crowded
    run = levelled()
    moved = levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)
    assert set(moved) == {str(first), str(second)}
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.pickup > THURSDAY
    assert (second.state, second.pickup) == (states.CONFIRMED, THURSDAY)
    run.refresh_from_db()
    assert all(row["taken"] for row in run.moves)
    papers = Job.objects.filter(kind="confirmation").values_list("payload__order", flat=True)
    assert sorted(papers) == sorted([first.order_id, first.order_id, second.order_id])
    with pytest.raises(Refused, match="taken already"):
        levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)


def test_moves_that_no_longer_hold_are_refused_and_nothing_is_moved(working, crowded):
    first, _second = crowded
    run = levelled()
    other = taken(working, pickup_asked=date.fromisoformat(run.moves[0]["tells"] or run.moves[1]["tells"]))
    promise.accept(order=other.order, by=None, today=TODAY, over_conflict="It is the grower's own risk")
    with pytest.raises(Refused, match="season changed"):
        levelling.take(run, keys=[key(first)], by=working.grower, today=TODAY)
    first.refresh_from_db()
    assert first.pickup == THURSDAY


def test_a_line_let_go_meanwhile_is_refused(working, crowded):
    _first, second = crowded
    run = levelled()
    OrderLine.objects.filter(pk=second.pk).update(quantity=10)
    with pytest.raises(Refused, match="season changed"):
        levelling.take(run, keys=[key(second)], by=working.grower, today=TODAY)


def slower_plants(working, _first, _second):
    working.scion.emergence_sum *= 2
    working.scion.save()


def healing(stage):
    return stage.values["kind"] == "healing"


def longer_in_the_chamber(_working, _first, second):
    protocol = bridge.current_protocol(second)
    draft = protocols.draft_of(protocol)
    stages = tuple(
        replace(each, values={**each.values, "usual": 9, "longest": 9})
        if each.values["kind"] == "healing"
        else each
        for each in draft.stages
    )
    protocols.revise(protocol=protocol, draft=replace(draft, stages=stages), by=None)


def moved_by_hand(_working, first, _second):
    moving.move(line=first, pieces=[(80, THURSDAY + timedelta(weeks=2))], by=None, today=TODAY)


def promised_at_the_desk(working, first, second):
    moved_by_hand(working, first, second)
    promise.accept(order=second.order, by=None, today=TODAY)


def test_what_is_not_any_more_as_it_was_levelled_is_not_moved(working, crowded):
    run = levelled()
    otherwise = "now asks for another day or other plants, or is grown otherwise."
    for change, says in (
        (slower_plants, f"Order 2, line 1 {otherwise}"),
        (longer_in_the_chamber, f"Order 2, line 1 {otherwise}"),
        (moved_by_hand, f"Order 1, line 1 {otherwise}"),
        (promised_at_the_desk, "Order 2, line 1 is confirmed now."),
    ):
        with transaction.atomic():
            first, second = OrderLine.objects.order_by("pk")
            change(working, first, second)
            before = list(OrderLine.objects.values_list("state", "pickup"))
            with pytest.raises(Refused) as refused:
                levelling.take(run, keys=[key(second)], by=None, today=TODAY)
            assert says in str(refused.value), change
            assert list(OrderLine.objects.values_list("state", "pickup")) == before
            transaction.set_rollback(True)
        working.scion.refresh_from_db()


def test_new_names_change_no_plan(working, crowded):
    run = levelled()
    working.scion.name = "Tallis Late Red"
    working.scion.save()
    assert levelling.take(run, keys=[key(crowded[1])], by=None, today=TODAY)


def test_a_page_that_is_behind_takes_nothing_that_was_refused_or_taken_meanwhile(working, crowded):
    """Two people look at the same moves; what the second presses is judged by what the first has done."""
    first, second = crowded
    run = levelled()
    seen_before = SeasonLevelling.objects.get(pk=run.pk)
    levelling.refuse(run, keys=[key(first)])
    with pytest.raises(Refused, match="you refused it"):
        levelling.take(seen_before, keys=[key(second)], by=None, today=TODAY)
    levelling.refuse(run, keys=[key(first)], refused=False)
    levelling.take(run, keys=[key(second)], by=None, today=TODAY)
    with pytest.raises(Refused, match="taken already"):
        levelling.take(seen_before, keys=[key(first), key(second)], by=None, today=TODAY)


@pytest.mark.parametrize("keys", [[], ["line:999999"], ["nonsense"]])
def test_what_is_no_move_is_refused(crowded, keys):
    with pytest.raises(Refused, match=r"[nN]o move"):
        levelling.take(levelled(), keys=keys, by=None, today=TODAY)


def test_one_run_at_a_time_and_it_can_be_stopped(crowded):
    run = levelling.start(by=None, today=TODAY)
    with pytest.raises(Refused, match="under way"):
        levelling.start(by=None, today=TODAY)
    levelling.stop(run)
    jobs.drain()
    run.refresh_from_db()
    assert run.state == "done"
    levelling.start(by=None, today=TODAY)


def test_a_worker_that_died_is_followed_by_one_that_begins_again(crowded):
    run = levelling.start(by=None, today=TODAY)
    SeasonLevelling.objects.filter(pk=run.pk).update(state="running")
    jobs.drain()
    run.refresh_from_db()
    assert (run.state, len(run.moves)) == ("done", 2)


def test_a_run_over_which_every_worker_died_has_failed_and_another_can_begin(crowded):
    run = levelling.start(by=None, today=TODAY)
    Job.objects.filter(kind="level_season").update(attempts=len(jobs.WAITS) + 1)
    jobs.drain()
    run.refresh_from_db()
    assert (run.state, run.trouble) == ("failed", "The service stopped each time while doing this.")
    levelling.start(by=None, today=TODAY)


@pytest.mark.parametrize(
    ("cost", "said"),
    [
        ((0, 0, 0, 0, 0), "all have room and none is late; "),
        ((200, 100, 0, 0, 0), "2 lines without room and 1 day late in all; "),
        ((120, 0, 0, 0, 0), "2 lines without room and none is late (own crops count for less)"),
    ],
)
def test_what_a_season_costs_is_said_in_whole_lines_and_days(cost, said):
    """An own crop weighs a fifth of a customer's line (bridge.wishes): nobody has 1.2 lines."""
    assert cost_words(cost).startswith(said)


def test_by_page_it_is_started_watched_and_taken(client, working, crowded):
    first, second = crowded
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    page = reverse("season_level")
    assert "Not levelled yet" in client.get(page).content.decode()
    client.post(page)
    waiting = client.get(page).content.decode()
    assert "It begins." in waiting
    assert 'hx-trigger="load delay:1s"' in waiting
    jobs.drain()
    done = client.get(page).content.decode()
    assert f"Needs, and brings along, the move of {first}." in done
    assert "1 line finds room, 1 promised line moves, 1 customer must be told another day." in done
    assert "Nothing better is possible." in done
    run = levelling.newest()
    said = client.post(reverse("season_level_take", args=[run.pk]), {"moves": [key(second)]}, follow=True)
    [told] = map(str, said.context["messages"])
    assert told.startswith(f"Moved: {first} and {second}.")


@pytest.fixture
def numbers_about_to_grow(working):
    """The next two lines have the keys 999999 and 1000000, the second of which comes first as text."""
    line = taken(working)
    line.pk = 999_998
    line.number += 1
    line.save(force_insert=True)  # SQLite goes on from the largest key it has seen
    line.order.delete()
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT setval(pg_get_serial_sequence('orders_orderline', 'id'), 999998)")


def test_moves_are_told_in_the_order_of_their_lines(working, numbers_about_to_grow, crowded):
    first, second = crowded
    assert (first.pk, second.pk) == (999_999, 1_000_000)
    labels = levelling.take(levelled(), keys=[key(first), key(second)], by=working.grower, today=TODAY)
    assert labels == [str(first), str(second)]


def test_all_moves_are_taken_with_one_press(client, working, crowded):
    first, second = crowded
    client.force_login(working.grower, backend="django.contrib.auth.backends.ModelBackend")
    client.post(reverse("season_level"))
    jobs.drain()
    run = levelling.newest()
    assert "Take all 2 moves" in client.get(reverse("season_level")).content.decode()
    client.post(reverse("season_level_take", args=[run.pk]), {"all": "yes"})
    run.refresh_from_db()
    assert all(row["taken"] for row in run.moves)
    first.refresh_from_db()
    second.refresh_from_db()
    assert first.state == second.state == "confirmed"


def test_by_api_as_well_and_only_for_who_may_replan(working, crowded):
    _first, second = crowded
    api = APIClient()
    api.force_authenticate(working.grower)
    started = api.post("/api/season/level/")
    assert started.status_code == 202
    jobs.drain()
    run = api.get("/api/season/level/").json()
    assert run["state"] == "done"
    assert run["best"]["left_over"] == 0
    wrong = api.post(f"/api/season/level/{run['id']}/take/", {"moves": ["line:0"]}, format="json")
    assert wrong.status_code == 400
    moved = api.post(f"/api/season/level/{run['id']}/take/", {"moves": [key(second)]}, format="json").json()
    assert all(move["taken"] for move in moved["moves"])
    api.force_authenticate(UserFactory(role="office"))
    assert api.post("/api/season/level/").status_code == 403
