"""Joining a batch that is not sown yet: offered, taken in one transaction, refused when too late, and left."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db.models import F
from rest_framework.test import APIClient

from orders import history, jobs, states
from orders import services as orders
from orders.models import Nursery, OrderLine
from orders.refusals import Refused
from production import bridge
from production.models import Allocation, Batch, Part, Protocol, ProtocolStage
from production.planning import check
from production.planning.ways_out import WayOut
from production.services import answering, holding, joining, moving, promise
from production.services.season_files import running_season
from production.services.ways import Promised, told
from tests.factories import CustomerFactory, UserFactory
from tests.nursery import TODAY, Working, working_nursery

pytestmark = pytest.mark.django_db
THURSDAY = date(2027, 4, 22)


@pytest.fixture
def working() -> Working:
    return narrow()


def narrow() -> Working:
    """A chamber of three trays, stages never longer or shorter: 65 plants want two trays, 130 want three."""
    made = working_nursery(healing=3)
    ProtocolStage.objects.filter(track="union").update(shortest=F("usual"), longest=F("usual"))
    Protocol.objects.update(keeping_nights=3)
    return made


def taken(working: Working, **changes: object) -> OrderLine:
    line = working.line(**({"quantity": 65, "pickup_asked": THURSDAY, "later": 0} | changes))
    order = orders.take_order(customer=CustomerFactory(), lines=[line], by=working.grower, today=TODAY)
    return order.lines.get()


def promised(working: Working, **changes: object) -> OrderLine:
    line = taken(working, **changes)
    promise.accept(order=line.order, by=working.grower, today=TODAY)
    line.refresh_from_db()
    return line


def ways(working: Working, line: OrderLine) -> list[WayOut]:
    season = bridge.season_of(TODAY)
    answers = answering.what_if([line], today=TODAY, season=season)
    (out,) = answering.ways_out(answers, season=season, nursery=working.nursery)
    return [way for way in out.ways if way.kind == "joining"]


def join(working: Working, line: OrderLine, into: str, seen: int | None = None) -> Part:
    promise.accept(order=line.order, by=working.grower, today=TODAY, joining=[joining.named(into, seen)])
    line.refresh_from_db()
    return Part.objects.get(allocations__line=line)


def faults() -> list[object]:
    """The referee on all that is planned, from the stored rows."""
    nursery, season = Nursery.current(), bridge.Taken.read(TODAY, Nursery.current()).empty
    plans = []
    for part in bridge.living_parts():
        protocol = bridge.protocols_of([part])[part.batch.protocol_id]
        plans.append(joining.unsown_of(part, protocol, season=season, nursery=nursery).plan.as_if_asked)
    return [*check.faults(season, plans), *check.conflicts(season, plans)]


# --- offered -------------------------------------------------------------------------------------------------


def test_a_batch_that_is_not_sown_is_offered_to_a_line_that_does_not_fit_alone(working):
    promised(working)
    (way,) = ways(working, taken(working))
    assert way.joins.name == Part.objects.get().batch.code
    assert (way.joins.unsown.wish.quantity, way.plan.wish.quantity) == (65, 130)


@pytest.mark.parametrize(
    "changes",
    [{"leaders": "two_topped"}, {"container": "tray"}, {"rootstock_seed": "customers"}, {"method": "side"}],
    ids=["leaders", "container", "seed of a customer", "method"],
)
def test_only_a_batch_of_the_same_plants_is_offered(working, changes):
    promised(working)
    if "container" in changes:
        changes = {"container": working.tray}
    assert not ways(working, taken(working, **changes))


def test_a_batch_whose_plants_would_not_keep_until_the_pickup_is_not_offered(working):
    promised(working)
    late = taken(working, pickup_asked=THURSDAY + timedelta(days=8))
    assert not ways(working, late)


def test_a_batch_of_which_anything_is_sown_is_not_offered(working):
    promised(working)
    Part.objects.get().sowings.filter(subject="rootstock").update(sown_on=TODAY)
    assert not ways(working, taken(working))


# --- taken ---------------------------------------------------------------------------------------------------


def test_joining_confirms_the_line_and_plans_the_batch_anew_for_both(working):
    first = promised(working)
    was = Part.objects.get()
    codes = set(was.sowings.values_list("code", flat=True))
    second = taken(working)
    part = join(working, second, was.batch.code)
    assert part.pk == was.pk
    assert (part.plants, part.grafts > was.grafts, part.revision) == (130, True, was.revision + 1)
    assert dict(part.allocations.values_list("line", "quantity")) == {first.pk: 65, second.pk: 65}
    assert (second.state, second.pickup, first.pickup) == (states.CONFIRMED, THURSDAY, THURSDAY)
    assert set(part.sowings.values_list("code", flat=True)) == codes  # labels printed before still name them
    assert part.chance >= 0.95
    assert not faults()


def test_what_was_done_stands_in_the_history_of_batch_and_order_and_the_customer_gets_paper(working):
    promised(working)
    line = taken(working)
    part = join(working, line, Part.objects.get().batch.code)
    assert any(f"joins batch {part}" in entry.text for entry in history.of(line.order))
    assert any("130 plants, not 65" in entry.text for entry in history.of(part.batch))
    assert jobs.Job.objects.filter(kind="confirmation", payload__order=line.order_id).exists()


def test_a_line_with_another_pickup_keeps_its_own_and_the_batch_is_ready_for_the_first(working):
    first = promised(working)
    line = taken(working, pickup_asked=THURSDAY + timedelta(days=1), collection_days=1)
    part = join(working, line, Part.objects.get().batch.code)
    first.refresh_from_db()
    assert (first.pickup, line.pickup) == (THURSDAY, THURSDAY + timedelta(days=1))
    assert part.ready_day <= first.pickup
    assert part.pickup == first.pickup
    assert max(stay.leaves for stay in part.stays.all()) == line.pickup
    assert not faults()


def test_who_may_not_replan_joins_nothing(working):
    promised(working)
    line = taken(working)
    office = UserFactory(username="office", role="office")
    with pytest.raises(Refused, match="may not"):
        promise.accept(order=line.order, by=office, today=TODAY, joining=[joining.named(Batch.objects.get().code)])


def test_a_line_that_fits_alone_gets_its_own_batch(working):
    promised(working)
    line = taken(working, quantity=10)
    assert join(working, line, Batch.objects.order_by("pk")[0].code) != Part.objects.order_by("pk")[0]


# --- several lines of an order ---------------------------------------------------------------------------------


@pytest.fixture
def full(working) -> Working:
    """Two batches of the same plants, 65 in two trays and 10 in one: no chamber tray is left."""
    promised(working)
    promised(working, quantity=10)
    return working


def asked_together(working: Working, *quantities: int) -> list[OrderLine]:
    lines = [working.line(quantity=each, pickup_asked=THURSDAY, later=0) for each in quantities]
    order = orders.take_order(customer=CustomerFactory(), lines=lines, by=working.grower, today=TODAY)
    return list(order.lines.order_by("number"))


def join_all(working: Working, lines: list[OrderLine]) -> None:
    into = [joining.named(batch.code) for batch in Batch.objects.order_by("pk")]
    promise.accept(order=lines[0].order, by=working.grower, today=TODAY, joining=into)


def test_two_lines_of_an_order_join_one_batch_at_once(full):
    large = Part.objects.get(plants=65)
    lines = asked_together(full, 20, 15)
    join_all(full, lines)
    was, large = large, Part.objects.get(pk=large.pk)
    assert (large.plants, large.revision) == (100, was.revision + 1)
    assert dict(large.allocations.filter(line__in=lines).values_list("line", "quantity")) == {
        lines[0].pk: 20,
        lines[1].pk: 15,
    }
    assert {line.state for line in lines[0].order.lines.all()} == {states.CONFIRMED}
    said = [entry.text for entry in history.of(large.batch)]
    assert any("85 plants, not 65" in text for text in said)
    assert any("100 plants, not 85" in text for text in said)
    assert not faults()


def test_a_line_that_the_first_batch_cannot_take_joins_the_next(full):
    lines = asked_together(full, 20, 45)
    join_all(full, lines)
    parts = {part.plants: [each.line_id for each in part.allocations.all()] for part in Part.objects.all()}
    assert lines[0].pk in parts[85]
    assert lines[1].pk in parts[55]
    assert not faults()


def test_where_one_line_finds_no_batch_none_of_the_order_is_promised(full):
    lines = asked_together(full, 20, 200)
    with pytest.raises(Refused, match="cannot take 200 plants more"):
        join_all(full, lines)
    assert {line.state for line in lines[0].order.lines.all()} == {states.ASKED}
    assert sorted(Part.objects.values_list("plants", flat=True)) == [10, 65]


# --- refused -------------------------------------------------------------------------------------------------


def refused(working: Working, line: OrderLine, into: str, seen: int | None = None) -> Refused:
    with pytest.raises(Refused) as found:
        join(working, line, into, seen)
    line.refresh_from_db()
    assert line.state == states.ASKED
    assert not Allocation.objects.filter(line=line).exists()
    return found.value


def test_a_batch_sown_meanwhile_is_not_joined(working):
    promised(working)
    part, line = Part.objects.get(), taken(working)
    part.sowings.filter(subject="rootstock").update(sown_on=TODAY)
    assert "not waiting to be sown" in refused(working, line, part.batch.code).reason


def test_a_batch_changed_since_it_was_seen_is_not_joined(working):
    promised(working)
    part, line = Part.objects.get(), taken(working)
    Part.objects.update(revision=F("revision") + 1)
    refusal = refused(working, line, part.batch.code, part.revision)
    assert (refusal.field, "changed meanwhile" in refusal.reason) == ("joining", True)


def test_a_batch_that_would_not_fit_with_so_many_is_not_joined(working):
    promised(working)
    assert (
        "cannot take 200 plants more"
        in refused(working, taken(working, quantity=200), Batch.objects.get().code).reason
    )


def test_a_batch_of_other_plants_and_one_that_there_is_not_are_refused(working):
    promised(working)
    line = taken(working, container=working.tray)
    assert "other plants" in refused(working, line, Batch.objects.get().code).reason
    with pytest.raises(Refused, match="no batch B999"):
        joining.named("B999")


# --- left again ----------------------------------------------------------------------------------------------


def drain() -> None:
    jobs.drain()


def test_a_cancelled_line_leaves_and_the_batch_is_sown_for_the_other_alone(working):
    first = promised(working)
    alone = Part.objects.get()
    line = taken(working)
    join(working, line, alone.batch.code)
    orders.cancel(line=line, by=working.grower, why="changed their mind")
    drain()
    part = Part.objects.get()
    assert (part.plants, part.grafts) == (65, alone.grafts)
    assert [each.line for each in part.allocations.all()] == [first]
    assert not faults()


def test_the_first_line_moves_away_and_the_joined_one_keeps_its_batch(working):
    first = promised(working)
    alone = Part.objects.get()
    line = taken(working)
    join(working, line, alone.batch.code)
    later = THURSDAY + timedelta(days=14)
    moving.move(line=first, pieces=[(65, later)], by=working.grower, today=TODAY)
    drain()
    first.refresh_from_db()
    assert first.pickup == later
    kept = Part.objects.get(allocations__line=line)
    assert (kept.pk, kept.plants, kept.grafts) == (alone.pk, 65, alone.grafts)
    assert Part.objects.get(allocations__line=first).plants == 65
    assert not faults()


def test_a_shared_batch_is_not_moved_to_make_room_for_another(working):
    first = promised(working, later=14)
    owner, season = f"line:{first.pk}", bridge.season_of(TODAY)
    others = Promised(season, working.nursery)
    assert others.movable([owner, "part:7", "full"]) == [owner]
    assert [line.wish.key for line in others.told([owner])] == [owner]
    join(working, taken(working), Batch.objects.get().code)
    assert not others.movable([owner])
    assert not told([owner], season.prices, working.nursery)


# --- by API --------------------------------------------------------------------------------------------------


def test_a_program_reads_the_way_out_and_confirms_by_it(working, time_machine):
    time_machine.move_to("2027-01-11 09:00 +0000", tick=False)
    promised(working)
    line = taken(working)
    api = APIClient()
    api.force_authenticate(working.grower)
    wanted = {
        "quantity": 65, "scion": "Tallis Red", "rootstock": "Kelder", "container": working.pot.name,
        "pickup": THURSDAY.isoformat(),
    }  # fmt: skip
    [said] = api.post("/api/promise/", {"lines": [wanted]}, format="json").json()
    [way] = [way for way in said["ways_out"] if way["kind"] == "joining"]
    assert (way["joins"]["plants_before"], way["joins"]["plants"], way["quantity"]) == (65, 130, 65)
    into = {"batch": way["joins"]["batch"], "revision": way["joins"]["revision"]}
    late = api.post(
        f"/api/orders/{line.order.code}/confirm/", {"joining": [into | {"revision": 99}]}, format="json"
    )
    assert late.status_code in (400, 409)
    assert "changed meanwhile" in str(late.json())
    done = api.post(f"/api/orders/{line.order.code}/confirm/", {"joining": [into]}, format="json").json()
    assert [each["state"] for each in done["lines"]] == ["confirmed"]
    assert Part.objects.get().plants == 130


# --- given away as a file --------------------------------------------------------------------------------------


def test_a_season_file_holds_a_shared_batch_once_for_all_its_lines(working):
    """What somebody levels from the file must be grown for both lines, and pass the referee as it stands."""
    first = promised(working)
    second = taken(working, pickup_asked=THURSDAY + timedelta(days=1), collection_days=1)
    join(working, second, Part.objects.get().batch.code)
    file = running_season(today=TODAY, nursery=working.nursery)
    [promise_of_both] = file.promised
    wish = promise_of_both.plan.wish
    assert (wish.key, wish.quantity, wish.pickup, wish.collection) == (f"line:{first.pk}", 130, THURSDAY, 2)
    assert "Order 1" in wish.label
    assert "Order 2" in wish.label
    assert not check.faults(file.season, [promise_of_both.plan])


# --- only held ------------------------------------------------------------------------------------------------


def test_a_line_that_is_only_held_joins_and_leaves_by_itself(working):
    part = Part.objects.get(allocations__line=promised(working))
    line = taken(working)
    into = joining.named(part.batch.code)
    made = holding.hold(order=line.order, by=working.grower, today=TODAY, joining=[into])
    line.refresh_from_db()
    part.refresh_from_db()
    assert (line.state, line.hold_until, part.plants) == (states.HELD, TODAY + timedelta(days=3), 130)
    holding.lapse(made.until + timedelta(days=1))
    jobs.drain()
    line.refresh_from_db()
    part.refresh_from_db()
    assert (line.state, part.plants, part.allocations.count()) == (states.LET_GO, 65, 1)
    assert faults() == []


def test_a_batch_that_is_only_held_is_joined_by_nobody(working):
    first = taken(working)
    holding.hold(order=first.order, by=working.grower, today=TODAY)
    assert ways(working, taken(working)) == []
