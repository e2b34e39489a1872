"""Counts: append-only, corrected by further counts, and what they amount to."""

import datetime as dt
import uuid

import pytest

from orders.refusals import Refused
from production.models import Count
from production.queries.batch import batches, part_view, picture
from production.queries.tally import tally_of
from production.services import growing
from production.services.counting import correct_count, record_count
from production.services.handing_over import hand_over
from production.services.readiness import declare_ready


@pytest.fixture
def sown(ground):
    ground.lots()
    ground.line_ = ground.line()
    ground.part_ = ground.part(ground.line_)
    ground.sow(ground.part_, 100)
    return ground


@pytest.fixture
def taken(sown):
    """80 up on both sides, 70 grafted, 66 took."""
    for side in ("scion", "rootstock"):
        sown.do(sown.part_, "count_emerged", 80, subject=side)
    sown.do(sown.part_, "graft", 70)
    sown.do(sown.part_, "count_taken", 66, reason="wilted")
    return sown


def count(ground, kind, quantity, **more):
    return record_count(
        part=ground.part_, kind=kind, quantity=quantity, by=ground.grower, today=ground.today, **more
    )


def sowing(ground, subject):
    return ground.part_.sowings.get(subject=subject)


def test_rows_cannot_be_changed_or_deleted(sown):
    row = Count.objects.first()
    row.quantity = 3
    with pytest.raises(TypeError):
        row.save()
    with pytest.raises(TypeError):
        row.delete()


def test_a_later_count_of_what_is_up_replaces_the_earlier_one(sown):
    scion = sowing(sown, "scion")
    sown.today += dt.timedelta(days=6)
    first_day = sown.today
    count(sown, "emerged", 50, sowing=scion)
    sown.today += dt.timedelta(days=2)
    count(sown, "emerged", 83, sowing=scion)
    counted = tally_of(sown.part_).of(scion)
    assert (counted.sown, counted.emerged, counted.seedlings) == (100, 83, 83)
    assert counted.emerged_on == first_day


def test_the_same_id_is_one_count_and_another_kind_under_it_is_refused(sown):
    key, scion = uuid.uuid4(), sowing(sown, "scion")
    first = count(sown, "emerged", 70, sowing=scion, count_id=key)
    assert count(sown, "emerged", 70, sowing=scion, count_id=key) == first
    assert Count.objects.filter(kind="emerged").count() == 1
    with pytest.raises(Refused) as refused:
        count(sown, "usable", 60, sowing=scion, count_id=key)
    assert refused.value.field == "count_id"


def test_a_correction_stands_where_the_wrong_count_stood(sown):
    scion = sowing(sown, "scion")
    wrong = count(sown, "emerged", 70, sowing=scion)
    count(sown, "lost", 5, sowing=scion, reason="damping off")
    right = correct_count(count=wrong, quantity=90, by=sown.grower, today=sown.today, reason="tray missed")
    assert right.corrects == wrong
    assert tally_of(sown.part_).of(scion).seedlings == 85  # the five were lost after that count
    with pytest.raises(Refused, match="corrected to 90 already"):
        correct_count(count=wrong, quantity=80, by=sown.grower, today=sown.today)


def test_a_correction_that_makes_a_later_count_impossible_is_refused(taken):
    grafted = Count.objects.get(kind="grafted")
    with pytest.raises(Refused, match="66 took, but only 60 were grafted"):
        correct_count(count=grafted, quantity=60, by=taken.grower, today=taken.today)
    correct_count(count=grafted, quantity=68, by=taken.grower, today=taken.today)
    assert tally_of(taken.part_).grafted == 68


def test_more_sown_than_the_lot_holds_cannot_be_corrected_into_being(sown):
    row = Count.objects.filter(kind="sown").first()
    with pytest.raises(Refused, match="has only 900 seeds left besides these"):
        correct_count(count=row, quantity=1001, by=sown.grower, today=sown.today)


def test_losses_say_why_and_never_exceed_what_is_there(taken):
    with pytest.raises(Refused) as refused:
        count(taken, "lost", 3)
    assert refused.value.field == "reason"
    with pytest.raises(Refused, match="67 lost, but only 66 were there"):
        count(taken, "lost", 67, reason="mice")
    count(taken, "lost", 6, reason="mice")
    assert tally_of(taken.part_).alive == 60


def test_losses_by_cause(taken):
    count(taken, "lost", 2, reason="mice")
    causes = {(loss.cause, loss.quantity) for loss in tally_of(taken.part_).losses()}
    assert causes == {("did not come up", 20), ("wilted", 4), ("mice", 2)}


def test_plants_lost_after_they_were_ready_are_ready_no_more(taken):
    line = taken.line_
    declare_ready(line=line, quantity=60, by=taken.grower, today=taken.today)
    count(taken, "lost", 4, reason="frost")  # 66 lived: two of them nobody had ordered… and 62 still do
    line.refresh_from_db()
    assert line.ready_quantity == 60
    count(taken, "lost", 10, reason="frost")
    line.refresh_from_db()
    assert line.ready_quantity == 52
    with pytest.raises(Refused, match="Only 52 plants are ready"):
        hand_over(line=line, quantity=53, by=taken.grower, today=taken.today)


def test_what_was_handed_over_is_not_corrected_here(taken):
    line = taken.line_
    declare_ready(line=line, quantity=60, by=taken.grower, today=taken.today)
    hand_over(line=line, quantity=10, by=taken.grower, today=taken.today)
    with pytest.raises(Refused, match="on the bill"):
        correct_count(count=Count.objects.get(kind="handed_over"), quantity=9, by=taken.grower, today=taken.today)


def test_one_part_for_two_lines_gives_each_its_own(taken):
    from production.models import Allocation

    other = taken.asked(quantity=20)
    Allocation.objects.create(part=taken.part_, line=other, quantity=6)
    from orders.services import mark_confirmed, mark_growing

    mark_confirmed(line=other, pickup=taken.line_.pickup, by=None)
    mark_growing(line=other, by=None)
    growing.do_work(
        work=taken.work(taken.part_, "count_ready"), by=taken.grower, today=taken.part_.ready_day, count=64
    )
    taken.line_.refresh_from_db()
    other.refresh_from_db()
    assert (taken.line_.ready_quantity, other.ready_quantity) == (60, 4)


def test_the_picture_thins_from_sown_to_ready(taken):
    view = part_view(batches().get().parts.all()[0], today=taken.today)
    steps = {(lane.key, step.key): step.plants for lane in view.lanes for step in lane.steps}
    assert steps["scion", "sown"] == 100
    assert steps["scion", "emerged"] == 80
    assert steps["plants", "grafted"] == 70
    assert steps["plants", "taken"] == 66
    assert steps["plants", "ready"] is None
    blocks = picture(view.lanes)
    heights = [block.height for block in blocks if block.css == "here" and block.lane == "scion"]
    assert heights == sorted(heights, reverse=True)
    assert all(0 <= block.x <= 1000 and block.y > -1e-9 for block in blocks)
