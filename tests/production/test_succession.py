"""A protocol whose scion is sown twice: promised, sown, counted, moved on, grafted, ready, handed over, traced.

Rates, nights and days apart are common practice, no source.
"""

import datetime as dt
from dataclasses import replace

import pytest

from orders import states
from production import bridge
from production.models import Part, Protocol, Sowing, Stay, Work
from production.planning import check
from production.queries.tally import tally_of
from production.queries.trace import trace_line, trace_lot
from production.services import growing, replan
from production.services.handing_over import hand_over
from production.services.protocols import draft_of, revise
from tests.production.growing import Ground, ground

pytestmark = pytest.mark.django_db
APART = 2


@pytest.fixture
def twice() -> Ground:
    """A nursery whose tomato scions are sown twice."""
    there = ground()
    protocol = Protocol.objects.get(crop__name="Tomato", method="splice", current=True)
    draft = draft_of(protocol)
    more = {"scion_sowings": 2, "sown_apart": APART}
    revise(protocol=protocol, draft=replace(draft, values={**draft.values, **more}), by=there.grower)
    return there


@pytest.fixture
def part(twice: Ground) -> Part:
    return twice.part(twice.line())


def scions(part: Part) -> list[Sowing]:
    return list(part.sowings.filter(subject="scion").order_by("number"))


def of(sowing: Sowing, kind: str) -> Work:
    return Work.objects.get(sowing=sowing, kind=kind)


def do(ground: Ground, sowing: Sowing, kind: str, count: int | None = None, **more: object) -> Work:
    work = of(sowing, kind)
    ground.today = max(ground.today, work.day)
    return growing.do_work(work=work, by=ground.grower, today=ground.today, count=count, **more)


def judged(part: Part, ground: Ground) -> list[check.Fault]:
    """What the referee finds in the part as it is stored, its records beside it."""
    part = bridge.living_parts().get(pk=part.pk)
    line = part.allocations.get().line
    wish = bridge.wish_of(
        line,
        nursery=ground.nursery.nursery,
        protocol=bridge.protocols().get(pk=part.batch.protocol_id),
        pickup=part.pickup,
        quantity=part.plants,
    )
    plan = bridge.line_plan_of(wish, part.pickup, [part])
    facts = {wish.key: bridge.facts_of(part)}
    return check.faults(bridge.season_of(ground.today), [plan], frozenset(facts), facts)


def test_both_sowings_are_stored_with_stays_and_work_of_their_own(twice: Ground, part: Part) -> None:
    one, two = scions(part)
    assert (one.number, two.number) == (1, 2)
    assert (two.day - one.day).days >= APART
    assert abs(one.seeds - two.seeds) <= 1
    for sowing in (one, two):
        germinating, raising = Stay.objects.filter(sowing=sowing).order_by("first")
        assert (germinating.stage_kind, germinating.first, germinating.leaves) == (
            "germinating", sowing.day, sowing.emerges,
        )  # fmt: skip
        assert (raising.stage_kind, raising.first, raising.leaves) == ("raising", sowing.emerges, part.graft_day)
        kinds = set(Work.objects.filter(sowing=sowing).values_list("kind", flat=True))
        assert {"sow", "count_emerged", "count_usable"} <= kinds
    assert part.sowings.get(subject="rootstock").number == 1
    assert judged(part, twice) == []


def test_the_plan_is_read_back_as_it_was_stored(part: Part) -> None:
    plan = bridge.part_plan_of(part)
    again = {(stay.subject, stay.sowing, stay.stage): stay for stay in plan.stays}
    assert len(again) == len(plan.stays)
    assert plan.sizing.scion_seeds == sum(sowing.seeds for sowing in scions(part))
    assert sorted(work.sowing for work in plan.works if (work.kind, work.subject) == ("sow", "scion")) == [1, 2]


def test_sowing_the_first_leaves_the_second_to_come(twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    do(twice, one, "sow")
    two.refresh_from_db()
    assert two.sown_on is None
    assert of(two, "sow").state == Work.State.PLANNED
    assert list(
        Stay.objects.filter(part=part, subject="scion", entered=True).values_list("sowing", flat=True)
    ) == [one.pk]
    assert judged(part, twice) == []


def test_planning_again_keeps_both(twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    do(twice, one, "sow")
    works = set(Work.objects.filter(part=part, state="planned").values_list("pk", flat=True))
    before = {sowing.pk: (sowing.day, sowing.seeds, sowing.trays) for sowing in (one, two)}
    replan.roll_part(part.pk, twice.today)
    assert {s.pk: (s.day, s.seeds, s.trays) for s in scions(part)} == before
    assert set(Work.objects.filter(part=part, state="planned").values_list("pk", flat=True)) == works
    assert Stay.objects.filter(sowing=two, entered=False).count() == 2


def test_a_second_sowing_that_is_forgotten_is_late_by_itself(twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    do(twice, one, "sow")
    day = twice.today = two.day + dt.timedelta(days=1)
    replan.roll_over(day)
    late = of(two, "sow")
    assert (late.day >= day, late.due) == (True, two.day)
    sown = Sowing.objects.get(pk=one.pk)
    assert (sown.day, sown.sown_on) == (one.day, one.day)
    assert judged(part, twice) == []


def test_each_is_counted_and_both_feed_one_forecast(twice: Ground, part: Part) -> None:
    twice.lots()
    for sowing in part.sowings.order_by("day"):
        do(twice, sowing, "sow")
    one, two = scions(part)
    part.refresh_from_db()
    hoped = part.expected
    do(twice, one, "count_emerged", one.seeds // 3, reason="cold night")
    part.refresh_from_db()
    assert part.expected < hoped
    worse = part.expected
    do(twice, two, "count_emerged", two.seeds)
    part.refresh_from_db()
    assert part.expected > worse
    tally = tally_of(part)
    assert (tally.of(one).emerged, tally.of(two).emerged) == (one.seeds // 3, two.seeds)
    assert tally.seedlings("scion") == one.seeds // 3 + two.seeds
    facts = bridge.facts_of(bridge.living_parts().get(pk=part.pk))
    assert {(f.number, f.emerged) for f in facts.sowings if f.subject == "scion"} == {
        (1, one.seeds // 3), (2, two.seeds),
    }  # fmt: skip


def test_moving_the_first_out_of_germination_leaves_the_second_where_it_is(twice: Ground, part: Part) -> None:
    twice.lots()
    for sowing in part.sowings.order_by("day"):
        do(twice, sowing, "sow")
    one, two = scions(part)
    twice.today = max(twice.today, one.emerges)
    for work in Work.objects.filter(sowing=one, state="planned", day__lte=one.emerges).order_by("day"):
        growing.do_work(work=work, by=twice.grower, today=twice.today)
    replan.roll_over(twice.today)
    here = Stay.objects.filter(part=part, subject="scion", entered=True, left=False)
    assert dict(here.values_list("sowing__number", "stage_kind")) == {1: "raising", 2: "germinating"}
    assert of(two, "count_emerged").state == Work.State.PLANNED
    assert judged(part, twice) == []


def test_from_promise_to_trace(twice: Ground) -> None:
    line = twice.line()
    part = twice.part(line)
    early, late = twice.lot(twice.scion), twice.lot(twice.scion)
    twice.lot(twice.rootstock)
    one, two = scions(part)
    for sowing in part.sowings.order_by("day"):
        lot = {one.pk: early, two.pk: late}.get(sowing.pk)
        do(twice, sowing, "sow", **({"lot": lot} if lot else {}))
    part = twice.grow_to_ready(part)
    tally = tally_of(part)
    assert tally.grafted == part.grafts
    assert not Stay.objects.filter(part=part, subject__in=("scion", "rootstock"), left=False).exists()
    twice.do(part, "count_ready")
    line.refresh_from_db()
    assert line.state == states.READY
    twice.today = max(twice.today, line.pickup)
    hand_over(line=line, quantity=line.quantity, by=twice.grower, today=twice.today)
    line.refresh_from_db()
    assert line.state == states.COLLECTED
    back = {(each.lot, each.sowing.number) for each in trace_line(line) if each.sowing.subject == "scion"}
    assert back == {(early, 1), (late, 2)}
    for lot, sowing in ((early, one), (late, two)):
        (forward,) = trace_lot(lot)
        assert (forward.sowing, forward.line, forward.seeds) == (sowing, line, sowing.seeds)
        assert forward.handed_over == line.quantity
