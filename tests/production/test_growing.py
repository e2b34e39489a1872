"""Recording work: what it counts, where it moves the plants, and what it refuses."""

import dataclasses
import datetime as dt
import itertools
import uuid

import pytest

from orders.models import HistoryEntry, Job
from orders.refusals import ManyRefused, Refused
from production.models import Count, Part, Person, Stay, Work
from production.queries.tally import tally_of
from production.services import growing, replan
from tests.factories import CustomerFactory


@pytest.fixture
def sown(ground):
    """A line of 60 with both sides sown today."""
    ground.lots()
    ground.part_ = ground.part(ground.line())
    ground.sow(ground.part_)
    return ground


def stay(part, stage_kind, subject="union"):
    return Stay.objects.get(part=part, stage_kind=stage_kind, subject=subject)


# --- sowing --------------------------------------------------------------------------------------------------


def test_sowing_counts_seeds_from_our_oldest_lot_and_lets_the_line_grow(ground):
    newer = ground.lot(ground.rootstock)
    oldest = ground.lot(ground.rootstock, received_on=ground.today - dt.timedelta(days=300))
    line = ground.line()
    part = ground.part(line)
    sowing = ground.do(part, "sow", subject="rootstock").sowing
    sowing.refresh_from_db()
    assert sowing.lot == oldest != newer
    assert sowing.sown_on == ground.today
    assert Count.objects.get(sowing=sowing).quantity == sowing.seeds
    assert stay(part, "germinating", "rootstock").entered
    line.refresh_from_db()
    assert line.state == "growing"
    assert Part.objects.get().state == "alive"


def test_more_seeds_than_the_lot_has_are_refused_and_nothing_is_kept(ground):
    ground.lot(ground.rootstock, seeds=50)
    part = ground.part(ground.line())
    with pytest.raises(Refused) as refused:
        ground.do(part, "sow", 51, subject="rootstock")
    assert refused.value.field == "lot"
    assert "the fullest has 50" in refused.value.reason
    assert not Count.objects.exists()
    assert ground.do(part, "sow", 50, subject="rootstock").done_plants == 50


def test_a_lot_is_used_up_by_what_was_sown_from_it(ground):
    lot = ground.lot(ground.rootstock, seeds=150)
    first, second = (ground.part(ground.line()) for _ in range(2))
    ground.do(first, "sow", 100, subject="rootstock")
    with pytest.raises(Refused, match=f"Lot {lot.code} has 50 seeds left, fewer than the 51 sown"):
        ground.do(second, "sow", 51, subject="rootstock", lot=lot)


def test_sowing_waits_for_the_customers_seed(ground):
    ground.lot(ground.scion)  # ours, which is not to be used
    customer = CustomerFactory()
    day = ground.today + dt.timedelta(days=30)
    line = ground.line(customer, scion_seed="customers", scion_seed_expected=day)
    part = ground.part(line)
    with pytest.raises(Refused, match="waits for the customer's seed of Tallis Red") as refused:
        ground.do(part, "sow", subject="scion")
    assert refused.value.field == "lot"
    theirs = ground.lot(ground.scion, customer=customer, received_on=ground.today)
    assert ground.do(part, "sow", subject="scion").sowing.lot == theirs


def test_seed_of_another_customer_is_refused(ground):
    part = ground.part(ground.line())
    theirs = ground.lot(ground.scion, customer=CustomerFactory(name="Dunmore Glasshouse"))
    with pytest.raises(Refused, match="belongs to Dunmore Glasshouse"):
        ground.do(part, "sow", subject="scion", lot=theirs)


def test_the_same_submit_twice_is_one_count(ground):
    ground.lots()
    part = ground.part(ground.line())
    work, key = ground.work(part, "sow", "scion"), uuid.uuid4()
    for _ in range(2):
        growing.do_work(work=work, by=ground.grower, today=ground.today, count=90, count_id=key)
    assert Count.objects.get().pk == key
    with pytest.raises(Refused, match="recorded already, with 90"):
        growing.do_work(work=work, by=ground.grower, today=ground.today, count=80)


def test_work_of_the_future_or_before_its_beginning_is_refused(sown):
    work = sown.work(sown.part_, "count_emerged", "scion")
    for day in (sown.today + dt.timedelta(days=1), sown.today - dt.timedelta(days=5)):
        with pytest.raises(Refused) as refused:
            growing.do_work(work=work, by=sown.grower, today=sown.today, happened_on=day, count=1)
        assert refused.value.field == "happened_on"


def test_grafts_come_after_sowing(ground):
    part = ground.part(ground.line())
    with pytest.raises(Refused, match="is not recorded as sown"):
        ground.do(part, "count_emerged", 3, subject="scion")
    with pytest.raises(Refused, match="grafts of B1 are not recorded"):
        ground.do(part, "prop")


# --- counts that cannot be ------------------------------------------------------------------------------------


def test_more_up_than_sown_is_refused_with_field_and_mend(sown):
    seeds = sown.part_.sowings.get(subject="scion").seeds
    with pytest.raises(Refused) as refused:
        sown.do(sown.part_, "count_emerged", seeds + 1, subject="scion")
    assert refused.value.field == "quantity"
    assert refused.value.reason == f"{seeds + 1} Tallis Red up, but only {seeds} were sown."
    assert refused.value.mend
    assert sown.work(sown.part_, "count_emerged", "scion").state == "planned"


def test_grafts_need_a_seedling_of_each_side(sown):
    sown.do(sown.part_, "count_emerged", 70, subject="scion")
    sown.do(sown.part_, "count_emerged", 65, subject="rootstock")
    with pytest.raises(Refused, match="66 grafts need more rootstock seedlings than the 65 there are"):
        sown.do(sown.part_, "graft", 66)
    sown.do(sown.part_, "graft", 65)
    with pytest.raises(Refused, match="66 took, but only 65 were grafted"):
        sown.do(sown.part_, "count_taken", 66)


def test_as_planned_never_records_more_than_there_is(sown):
    sown.do(sown.part_, "count_emerged", 40, subject="scion")
    sown.do(sown.part_, "count_emerged", 50, subject="rootstock")
    assert sown.do(sown.part_, "graft").done_plants == 40


# --- moving -----------------------------------------------------------------------------------------------------


def test_each_border_is_crossed_on_the_recorded_day_and_no_night_counts_twice(sown):
    part = sown.grow_to_ready(sown.part_)
    union = list(part.stays.filter(subject="union", entered=True).order_by("first"))[:4]
    assert [s.stage_kind for s in union] == ["healing", "cover", "hardening", "growing_on"]
    assert all(a.leaves == b.first for a, b in itertools.pairwise(union))
    assert [s.left for s in union] == [True, True, True, True]
    assert union[0].nights == 4  # common practice, no source: out before the fifth
    assert not part.stays.filter(subject__in=("scion", "rootstock"), left=False).exists()


def test_leaving_the_chamber_a_day_late_moves_what_follows(sown):
    part = sown.part_
    sown.do(sown.grow_until(part, ("graft",)), "graft")
    out = sown.work(part, "take_out")
    taken_before = sown.work(part, "count_taken").day
    sown.today = out.day + dt.timedelta(days=1)
    assert replan.roll_over(sown.today) == 1
    out.refresh_from_db()
    assert out.day == sown.today
    assert out.due == sown.today - dt.timedelta(days=1)
    growing.do_work(work=out, by=sown.grower, today=sown.today)
    assert stay(part, "healing").nights == 5
    assert stay(part, "cover").first == sown.today
    assert sown.work(part, "count_taken").day > taken_before


def test_plants_put_elsewhere_than_planned_stand_there(sown):
    from production.models import Place

    shelf = Place.objects.create(name="Side bench", kinds=["bench"], capacity=3.0, measure="area", temperature=20)
    sown.do(sown.part_, "count_emerged", subject="scion")
    sown.do(sown.part_, "move", subject="scion", place=shelf)
    here = stay(sown.part_, "raising", "scion")
    assert here.place == shelf
    assert here.load == pytest.approx(here.containers * here.container.area)


def test_trays_put_together_free_their_room_from_today(sown):
    sown.do(sown.part_, "count_emerged", 60, subject="scion")
    here = Stay.objects.get(part=sown.part_, subject="scion", entered=True, left=False)
    assert here.containers == 2
    sown.today += dt.timedelta(days=2)
    with pytest.raises(Refused) as refused:
        growing.regroup(part=sown.part_, stand=here.pk, containers=0, by=sown.grower, today=sown.today)
    assert refused.value.field == "containers"
    growing.regroup(part=sown.part_, stand=here.pk, containers=1, by=sown.grower, today=sown.today)
    before, after = Stay.objects.filter(part=sown.part_, subject="scion", stage=here.stage).order_by("first")
    assert (before.containers, before.left, before.leaves) == (2, True, sown.today)
    assert (after.containers, after.entered, after.first) == (1, True, sown.today)


# --- all as planned ---------------------------------------------------------------------------------------------


def test_a_part_of_the_day_is_recorded_in_one_go_except(ground):
    ground.lots()
    part = ground.part(ground.line())
    ground.today = ground.work(part, "sow", "scion").day
    works = list(Work.objects.filter(kind="sow", day=ground.today))
    scion = ground.work(part, "sow", "scion")
    key = uuid.uuid4()
    said = {"by": ground.grower, "today": ground.today, "key": key}
    recorded = growing.do_all_as_planned(works=works, numbers={scion.pk: 77}, unless=[works[1].pk], **said)
    assert len(recorded.done) == len(works) - 1
    growing.do_all_as_planned(works=works, numbers={scion.pk: 77}, unless=[works[1].pk], **said)
    assert Count.objects.count() == len(works) - 1
    if works[1] != scion:
        assert Count.objects.get(sowing=scion.sowing).quantity == 77


def test_one_fault_in_a_sweep_records_nothing(ground):
    ground.lot(ground.scion)  # none of the rootstock
    part = ground.part(ground.line())
    ground.today = max(work.day for work in Work.objects.filter(kind="sow"))
    with pytest.raises(ManyRefused) as refused:
        growing.do_all_as_planned(works=Work.objects.filter(kind="sow"), by=ground.grower, today=ground.today)
    rootstock = ground.work(part, "sow", "rootstock")
    assert [each.field for each in refused.value.refusals] == [f"work-{rootstock.pk}"]
    assert not Count.objects.exists()


# --- not today --------------------------------------------------------------------------------------------------


def test_put_off_work_comes_back_on_the_next_open_day_and_moves_what_follows(sown):
    part = sown.part_
    work = sown.work(part, "count_emerged", "scion")
    move = sown.work(part, "move", "scion")
    sown.today = move.day
    growing.do_work(work=work, by=sown.grower, today=sown.today)
    move = growing.put_off(work=move, by=sown.grower, today=sown.today)
    assert move.day > sown.today
    assert move.due < move.day
    assert HistoryEntry.objects.filter(what="work put off").exists()


# --- rolling over -----------------------------------------------------------------------------------------------


def test_yesterdays_work_is_todays_once_a_day_and_the_due_day_stays(ground):
    ground.lots()
    part = ground.part(ground.line())
    sow = ground.work(part, "sow", "rootstock")
    ready = part.ready_day
    ground.today = sow.day + dt.timedelta(days=3)
    assert replan.roll_over(ground.today) == 1
    assert replan.roll_over(ground.today) == 0
    due, now = sow.due, Work.objects.get(pk=sow.pk)
    assert now.day >= ground.today
    assert now.due == due
    part.refresh_from_db()
    assert part.ready_day >= ready
    assert not Work.objects.filter(state="planned", day__lt=ground.today).exists()


def test_falling_far_behind_marks_the_line_late(ground):
    ground.lots()
    part = ground.part(ground.line())
    ground.today = ground.work(part, "sow", "rootstock").day + dt.timedelta(days=21)
    replan.roll_over(ground.today)
    part.refresh_from_db()
    assert part.late_by > 5
    assert part.pickup == dt.date(2027, 4, 21)  # the date on paper stays
    assert any("after the last day promised" in trouble for trouble in part.troubles)


def test_a_plan_older_than_a_count_is_not_stored(sown, monkeypatch):
    """Somebody counts while the plan is computed: the plan is computed again."""
    part, real, tries = sown.part_, replan.roll, []

    def slow(*args):
        tries.append(1)
        if len(tries) == 1:
            Part.objects.filter(pk=part.pk).update(revision=part.revision + 100)
        return real(*args)

    monkeypatch.setattr(replan, "roll", slow)
    replan.roll_part(part.pk, sown.today)
    assert len(tries) == 2


def test_a_rolled_plan_that_failed_its_check_leaves_the_recording_and_the_plan_before(sown, monkeypatch, caplog):
    part, real = sown.part_, replan.roll

    def wrong(*args):
        rolled = real(*args)
        stays = tuple(
            dataclasses.replace(stay, containers=stay.containers + 9) if stay.stage_kind == "healing" else stay
            for stay in rolled.part.stays
        )
        return dataclasses.replace(rolled, part=dataclasses.replace(rolled.part, stays=stays))

    monkeypatch.setattr(replan, "roll", wrong)
    stays = list(part.stays.filter(entered=False).values("stage", "containers"))
    sown.do(part, "count_emerged", 50, subject="scion")
    part.refresh_from_db()
    assert tally_of(part).seedlings("scion") == 50
    assert list(part.stays.filter(entered=False, stage_kind="healing").values("stage", "containers")) == [
        stay for stay in stays if "healing" in stay["stage"]
    ]
    assert "failed its check" in part.troubles[0]
    assert "Healing chamber" in part.troubles[0]
    assert any(each.levelname == "ERROR" and "failed its check" in each.message for each in caplog.records)


def test_each_recording_leaves_a_job_that_does_nothing_when_the_plan_is_fresh(sown):
    job = Job.objects.filter(kind="replan").last()
    before = Part.objects.values().get()
    replan.replan_job(job.payload)
    assert Part.objects.values().get() == before
    assert not Part.objects.get().batch.stale


def test_two_people_see_only_their_own_work(ground):
    from production.queries.today import day_sheet

    bo = Person.objects.get(user=ground.crew)
    bo.skills.set(bo.skills.filter(name="Potting and care"))
    ground.lots()
    part = ground.part(ground.line())
    ground.today = ground.work(part, "sow", "scion").day
    theirs = day_sheet(ground.today, today=ground.today, user=ground.crew)
    assert theirs.tasks == ()
    assert theirs.others == 2
    all_of_it = day_sheet(ground.today, today=ground.today, user=ground.crew, everything=True)
    assert len(all_of_it.tasks) == 2
    assert tally_of(part).begun is False
