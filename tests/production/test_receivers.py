"""A line is cancelled: what is not sown is dropped, what lives goes on and is nobody's; and the daily task."""

import datetime as dt

import time_machine

from orders import services as orders
from production.models import Part, Stay, Work
from production.tasks import roll_over


def test_a_cancelled_line_that_was_not_sown_frees_its_room(ground):
    line = ground.line()
    part = ground.part(line)
    orders.cancel(line=line, by=ground.clerk, why="field flooded")
    part.refresh_from_db()
    assert part.state == "dropped"
    assert not Stay.objects.exists()
    assert not Work.objects.filter(state="planned").exists()


def test_plants_of_a_cancelled_line_live_on_as_nobodys(ground):
    ground.lots()
    line = ground.line()
    part = ground.part(line)
    ground.sow(part)
    orders.cancel(line=line, by=ground.clerk, why="field flooded")
    part.refresh_from_db()
    assert part.state == "alive"
    assert not part.allocations.exists()
    assert Stay.objects.filter(part=part, entered=True, left=False).exists()
    ground.do(part, "count_emerged", subject="scion")  # and are still counted


def test_the_daily_task_rolls_over_by_the_nurserys_date(ground):
    ground.line()
    work = Work.objects.filter(kind="sow").first()
    day = work.day + dt.timedelta(days=1)
    with time_machine.travel(dt.datetime(day.year, day.month, day.day, 1, tzinfo=dt.UTC)):
        assert roll_over() == 1
        assert roll_over() == 0
    assert Part.objects.get().rolled_on == day


def test_room_begins_by_itself_and_ends_when_the_trays_leave(ground):
    from production.services.handing_over import hand_over

    line = ground.line(
        kind="room", scion=None, rootstock=None, method="plain", container=ground.nursery.tray, quantity=5,
        room_place_kind="bench", room_nights=7,
    )  # fmt: skip
    stay = Stay.objects.get(subject="room")
    ground.today = stay.first
    from production.services import replan

    replan.roll_over(ground.today)
    line.refresh_from_db()
    stay.refresh_from_db()
    assert line.state == "growing"
    assert stay.entered
    hand_over(line=line, quantity=5, by=ground.clerk, today=stay.leaves)
    line.refresh_from_db()
    assert (line.state, line.collected_quantity) == ("collected", 5)
    assert Part.objects.get().state == "gone"
