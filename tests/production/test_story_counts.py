"""The story of a line that loses plants: 60 of 100 emerge; dates, expected number and the notice change."""

import datetime as dt

import pytest
import time_machine
from django.urls import reverse

from orders import jobs
from orders.models import HistoryEntry, Job, Letter
from production.models import Stay, Work
from production.season.page import season_page
from production.season.scope import scope_of
from production.services import growing
from production.services.handing_over import hand_over
from production.services.readiness import declare_ready, notice_of, send_notice


@pytest.fixture
def short(ground):
    """A line of 60, both sides sown with 100 seeds, of which 60 rootstocks came up five days late."""
    ground.lots()
    ground.line_ = ground.line()
    part = ground.part(ground.line_)
    ground.sow(part, seeds=100)
    part.refresh_from_db()
    ground.before = part
    ground.today += dt.timedelta(days=11)
    ground.healing_before = healing_weeks(ground)
    growing.do_work(
        work=ground.work(part, "count_emerged", "rootstock"), by=ground.grower, today=ground.today, count=60,
        reason="cold shelf",
    )  # fmt: skip
    return ground


def test_the_count_changes_what_is_expected_and_when(short):
    before, after = short.before, short.part(short.line_)
    assert before.expected > 60 > after.expected > 45  # 60 × usable × take × kept is about 50
    assert before.chance > 0.9
    assert after.chance < 0.1
    assert after.graft_day > before.graft_day
    assert after.ready_day > before.ready_day
    assert "About 50 of 60 plants are to be expected." in after.troubles
    said = HistoryEntry.objects.filter(what="planned again").first()
    assert "50 plants expected" in said.text
    assert "graft Mon 29 March" in said.text


def healing_weeks(ground):
    """The most trays that the season page shows in the chamber, by week."""
    scope = scope_of("year", None, today=ground.today)
    rows = season_page(scope, ground.nursery.nursery).sheet.rows
    row = next(row for row in rows if row.label == "Healing chamber")
    return {box.week: box.load for box in row.boxes if box.load}


def test_the_season_and_the_pages_show_it(short, client):
    before, after = short.before, short.part(short.line_)
    week = dt.timedelta(days=after.graft_day.weekday())
    assert after.graft_day - week not in short.healing_before
    assert list(healing_weeks(short)) == [after.graft_day - week]  # and no more in the week planned at first
    assert before.graft_day < after.graft_day - week

    with time_machine.travel(dt.datetime.combine(short.today, dt.time(12), tzinfo=dt.UTC)):
        client.force_login(short.grower)
        pages = [
            client.get(reverse("batch", args=[after.batch.code])),
            client.get(reverse("line_plan", args=[short.line_.pk])),
            client.get(reverse("batches")),
        ]
    batch, order, batches = (" ".join(page.content.decode().split()) for page in pages)
    assert "About 50 of 60 plants are to be expected." in batch
    assert "cold shelf" in batch
    assert "50 plants of 60" in order
    assert "50 of 60" in batches


def test_what_follows_moves_and_what_is_recorded_stays(short):
    part = short.part(short.line_)
    germinating = Stay.objects.get(part=part, subject="rootstock", stage_kind="germinating")
    assert germinating.entered
    assert germinating.first == short.before.sowings.get(subject="rootstock").sown_on
    graft = short.work(part, "graft")
    assert graft.day == graft.due == part.graft_day  # later, but not late: it only follows the seedlings
    assert graft.plants == 60
    healing = Stay.objects.get(part=part, stage_kind="healing")
    assert healing.first == part.graft_day
    assert Work.objects.filter(part=part, day__lt=short.today, state="planned").count() == 0


def test_the_shortage_is_seen_before_the_notice_and_handed_over_short(short):
    line = short.line_
    part = short.grow_to_ready(short.part(line))
    short.do(part, "count_ready")
    line.refresh_from_db()
    ready = line.ready_quantity
    assert line.state == "ready"
    assert 40 < ready < 60
    notice = notice_of(line)
    assert (notice.quantity, notice.short, notice.number) == (ready, 60 - ready, 1)
    job = send_notice(line=line, by=short.grower, today=short.today)
    assert job.payload["short"] == 60 - ready
    assert send_notice(line=line, by=short.grower, today=short.today) == job

    hand_over(line=line, quantity=ready - 10, by=short.clerk, today=short.today)
    assert line.state == "ready"
    hand_over(line=line, quantity=10, by=short.clerk, today=short.today, close_short=True, reason="fewer came up")
    line.refresh_from_db()
    assert line.state == "collected"
    assert line.collected_quantity == ready
    part.refresh_from_db()
    assert part.state == "gone"
    assert not Stay.objects.filter(part=part, left=False).exists()


@pytest.mark.papers
@pytest.mark.django_db(transaction=True)
def test_the_notice_names_the_shortage():
    from .growing import ground as make

    ground = make()
    ground.lots()
    line = ground.line()
    part = ground.grow_to_ready(ground.part(line))
    assert part.state == "alive"
    declare_ready(line=line, quantity=50, by=ground.grower, today=ground.today)
    send_notice(line=line, by=ground.grower, today=ground.today)
    jobs.drain()
    assert not Job.objects.exclude(state="done").values_list("error", flat=True)
    letter = Letter.objects.get(kind="pickup_ready")
    assert "50" in letter.text
    assert "10 fewer" in letter.text
    assert "BEGIN:VEVENT" in letter.calendar
