"""A protocol whose scion is sown twice: promised, sown, counted, moved on, grafted, ready, handed over, traced.

Rates, nights and days apart are common practice, no source.
"""

import csv
import datetime as dt
import io
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from orders import history, states
from orders.refusals import Refused
from production import bridge
from production.models import Part, Protocol, Sowing, Stay, Work
from production.papers.labels import labels_of_batch, labels_of_day
from production.planning import check
from production.queries.batch import part_view
from production.queries.tally import tally_of
from production.queries.today import day_sheet
from production.queries.trace import trace_line, trace_lot
from production.services import growing, replan
from production.services.handing_over import hand_over
from production.services.protocols import draft_of, revise
from production.strands import strand_of
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


# --- how it is shown -------------------------------------------------------------------------------------------


def page(client: Client, ground: Ground, way: str, *args: object) -> str:
    client.force_login(ground.grower)
    return " ".join(client.get(reverse(way, args=args)).content.decode().split())


def test_today_and_the_day_sheet_name_the_sowing(twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    tasks = {task.work.sowing: task for task in day_sheet(two.day, today=twice.today, everything=True).tasks}
    assert "sowing 2 of 2" in tasks[two].where
    do(twice, one, "sow")
    (sown,) = [
        task for task in day_sheet(two.day, today=two.day, everything=True).tasks if task.work.sowing == two
    ]
    assert sown.figure == two.seeds
    rootstock = part.sowings.get(subject="rootstock")
    sheet = day_sheet(rootstock.day, today=twice.today, everything=True)
    assert "of 2" not in next(task for task in sheet.tasks if task.work.sowing == rootstock).where


def test_each_sowing_has_labels_for_its_own_trays(part: Part) -> None:
    one, two = scions(part)
    labels = [label for label in labels_of_batch(part.batch) if label.code in (one.code, two.code)]
    assert [label.code for label in labels] == [one.code] * one.trays + [two.code] * two.trays
    assert labels[-1].side.endswith("sowing 2 of 2")
    assert {label.code for label in labels_of_day(two.day)} >= {two.code}
    assert one.code not in {label.code for label in labels_of_day(two.day)}


def test_the_strand_has_an_open_dot_for_the_second(part: Part) -> None:
    one, two = scions(part)
    strand = strand_of(bridge.part_plan_of(part), method="splice", pickup=part.pickup)
    assert strand.scion_sown == (one.day, two.day)
    assert len(strand.rootstock_sown) == 1


def test_the_batch_page_shows_each_with_its_counts(client: Client, twice: Ground, part: Part) -> None:
    twice.lots()
    for sowing in part.sowings.order_by("day"):
        do(twice, sowing, "sow")
    one, two = scions(part)
    do(twice, one, "count_emerged", one.seeds - 7)
    shown = page(client, twice, "batch", part.batch.code)
    assert f"{one.code}: sown" in shown
    lanes = {lane.name: [step.plants for step in lane.steps] for lane in part_view(part, today=twice.today).lanes}
    assert lanes["Scion, sowing 1 of 2"] == [one.seeds, one.seeds - 7, None]
    assert lanes["Scion, sowing 2 of 2"] == [two.seeds, None, None]
    assert "Scion, sowing 2 of 2" in shown
    assert "Scion, sowing 2 of 2: germinating" in shown
    assert f"{two.variety}, sowing 2 of 2 ({two.code})" in shown  # what may be counted


def test_the_traces_tell_them_apart(client: Client, twice: Ground, part: Part) -> None:
    early, late = twice.lot(twice.scion), twice.lot(twice.scion)
    twice.lot(twice.rootstock)
    one, two = scions(part)
    for sowing, lot in ((one, early), (two, late)):
        do(twice, sowing, "sow", lot=lot)
    shown = page(client, twice, "line_trace", part.allocations.get().line_id)
    assert shown.index("scion, sowing 1 of 2") < shown.index("scion, sowing 2 of 2")
    assert "sowing 2 of 2" in page(client, twice, "lot_trace", late.pk)


def test_the_files_of_work_of_counts_and_of_traces_name_it(client: Client, twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    client.force_login(twice.grower)

    def file(way: str, *args: object) -> list[dict[str, str]]:
        answer = client.get(reverse(way, args=args), {"list": "csv"})
        text = b"".join(answer.streaming_content).decode("utf-8-sig")
        return list(csv.DictReader(io.StringIO(text)))

    to_do = file("day", of(two, "sow").day)
    assert [row["Sowing"] for row in to_do if row["Work"].startswith("Sow Tallis Red")] == ["sowing 2 of 2"]
    do(twice, one, "sow")
    assert [row["Which of its side"] for row in file("batch", part.batch.code)] == ["sowing 1 of 2"]
    traced = file("line_trace", part.allocations.get().line_id)
    assert "sowing 1 of 2" in [row["Sowing"] for row in traced]


def test_the_api_names_the_sowing(client: Client, twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    do(twice, one, "sow")
    client.force_login(twice.grower)
    (grown,) = client.get(reverse("api_batch", args=[part.batch.code])).json()["parts"]
    assert {stand["sowing"] for stand in grown["stands"]} == {one.code}
    assert two.code in {work["sowing"] for work in grown["works"] if work["kind"] == "sow"}
    (plan,) = client.get(reverse("api_line_plan", args=[part.allocations.get().line_id])).json()
    assert {(s["subject"], s["number"]) for s in plan["sowings"]} == {("rootstock", 1), ("scion", 1), ("scion", 2)}
    assert {stay["sowing"] for stay in plan["stays"] if stay["subject"] == "scion"} == {1, 2}


# --- not all of them ---------------------------------------------------------------------------------------------


def test_a_second_sowing_of_no_seed_is_left_out(twice: Ground, part: Part) -> None:
    twice.lots()
    one, two = scions(part)
    graft_day = part.graft_day
    do(twice, one, "sow")
    left_out = do(twice, two, "sow", 0)
    assert left_out.state == Work.State.DROPPED
    assert scions(part) == [one]
    assert not Work.objects.filter(part=part, subject="scion", kind="sow", state="planned").exists()
    assert set(Stay.objects.filter(part=part, subject="scion").values_list("sowing", flat=True)) == {one.pk}
    part.refresh_from_db()
    assert part.graft_day == graft_day
    assert part.expected < part.plants  # half of the scions
    assert any("more seeds" in trouble for trouble in part.troubles)
    assert "sowing 2 of 2, is left out" in history.of(part.batch).get(what="sowing left out").text
    assert judged(part, twice) == []


def test_a_side_that_is_sown_once_is_not_left_out(twice: Ground, part: Part) -> None:
    twice.lots()
    with pytest.raises(Refused, match="Nothing was done"):
        do(twice, part.sowings.get(subject="rootstock"), "sow", 0)
