"""The season kept in memory is what the database holds, whoever changed it; the same object while nothing does."""

from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import translation

from orders import services as orders
from orders.models import Nursery
from production import at_hand, bridge
from production.models import Allocation, ClosedDay, Part, PartStamp, Person, Place, Stay, Work
from production.planning.conflicts import conflicts
from production.planning.load import Load
from production.services import growing, handing_over, moving, replan


def holds(today):
    """What is at hand is what reading everything anew gives."""
    assert at_hand.season_of(today) == bridge.season_of(today)


def test_a_season_that_nobody_changed_is_the_same_object(ground):
    ground.line()
    first = at_hand.season_of(ground.today)
    assert at_hand.season_of(ground.today) is first
    assert first.room


def test_conflicts_are_reckoned_once_for_as_long_as_nothing_changes(ground):
    ground.line()
    _load, found = at_hand.pinched(ground.today, Nursery.current())
    assert at_hand.pinched(ground.today, Nursery.current())[1] is found
    Place.objects.update(capacity=1)
    load, found = at_hand.pinched(ground.today, Nursery.current())
    assert found
    assert found == conflicts(Load(bridge.season_of(ground.today)))
    load.used[:] = 0  # the load is ours alone
    assert at_hand.pinched(ground.today, Nursery.current())[0].used.any()


def test_people_read_together_are_each_as_read_alone(ground):
    first, second = Person.objects.order_by("pk")[:2]
    first.absences.create(first=ground.today, last=ground.today + timedelta(days=3))
    first.absences.create(first=ground.today - timedelta(days=9), last=ground.today - timedelta(days=8))
    second.hours_by_part.create(part="evening", monday=2)
    second.hours_by_part.create(part="morning", monday=99)
    second.skills.clear()
    read = bridge.people()
    assert read == tuple(bridge.person_of(row) for row in Person.objects.filter(active=True))
    assert (len(read[0].away), read[1].skills, read[1].mornings[0], read[1].evenings[0]) == (
        2, frozenset(), float(second.monday), 0.0,
    )  # fmt: skip


def test_what_is_taken_given_back_and_moved_is_seen_at_once(ground):
    holds(ground.today)
    first, second = ground.line(), ground.line(quantity=30)
    holds(ground.today)
    later = first.pickup + timedelta(days=7)
    moving.move(line=first, pieces=[(40, first.pickup), (20, later)], by=ground.grower, today=ground.today)
    holds(ground.today)
    orders.cancel(line=second, by=ground.grower, why="gave up")
    holds(ground.today)


def test_each_step_of_growing_is_seen_at_once(ground):
    ground.lots()
    line = ground.line()
    part = ground.part(line)
    holds(ground.today)
    while works := ground._of_the_next_day(part, ("hand_over",)):
        ground.today = max(ground.today, works[0].day)
        growing.do_all_as_planned(works=works, by=ground.grower, today=ground.today)
        holds(ground.today)
    line.refresh_from_db()
    handing_over.hand_over(line=line, quantity=line.outstanding, by=ground.grower, today=ground.today)
    holds(ground.today)


def test_days_that_pass_and_work_left_undone_are_seen(ground):
    ground.lots()
    part = ground.part(ground.line())
    ground.sow(part)
    for _day in range(12):
        ground.today += timedelta(days=1)
        holds(ground.today)
        replan.roll_over(ground.today)
        holds(ground.today)


def test_a_place_a_person_and_the_calendar_are_read_each_time(ground):
    ground.line()
    before = at_hand.season_of(ground.today)
    Place.objects.filter(name="Long bench").update(capacity=77)
    holds(ground.today)
    ClosedDay.objects.create(day=ground.today + timedelta(days=9), name="Fair")
    holds(ground.today)
    assert at_hand.season_of(ground.today) != before


def test_what_was_rolled_back_leaves_nothing_behind(ground):
    """A stamp of a transaction that failed must not stand for what another one writes."""
    line = ground.line()
    for load in (3.0, 4.0):
        with transaction.atomic():
            Stay.objects.filter(part__allocations__line=line).update(load=load)
            holds(ground.today)
            transaction.set_rollback(True)
    holds(ground.today)


def test_labels_are_in_the_language_of_whoever_asks(ground):
    ground.line()
    with translation.override("de"):
        holds(ground.today)
    holds(ground.today)


@pytest.mark.parametrize(
    "change",
    [
        lambda part: Stay.objects.filter(part=part).update(nights=2),
        lambda part: Stay.objects.filter(part=part).delete(),
        lambda part: Work.objects.filter(part=part).update(state="dropped"),
        lambda part: Work.objects.filter(part=part).delete(),
        lambda part: Allocation.objects.filter(part=part).delete(),
        lambda part: Part.objects.filter(pk=part.pk).update(state="dropped"),
        lambda part: part.batch.delete(),
        lambda part: _by_hand("UPDATE production_stay SET load = 99"),
    ],
)
def test_a_change_past_all_services_is_seen(ground, change):
    part = ground.part(ground.line())
    ground.line(quantity=20)
    holds(ground.today)
    change(part)
    holds(ground.today)


def _by_hand(statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)


def test_a_part_that_is_gone_leaves_no_stamp(ground):
    part = ground.part(ground.line())
    assert PartStamp.objects.filter(part_id=part.pk).exists()
    part.batch.delete()
    assert not PartStamp.objects.filter(part_id=part.pk).exists()


def test_a_second_question_reads_no_claims(ground):
    for _order in range(3):
        ground.line(quantity=20)
    at_hand.season_of(ground.today)
    with CaptureQueriesContext(connection) as asked:
        at_hand.season_of(ground.today)
    tables = " ".join(query["sql"] for query in asked.captured_queries)
    assert "production_partstamp" in tables
    assert "production_stay" not in tables
    assert "production_work" not in tables
