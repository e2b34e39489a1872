"""The season files beside this, planned and judged; and what the referee says of plans spoilt on purpose.

Each file says in its `note` why it is there.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.check import conflicts
from production.planning.filed import judge_plan, plan_of
from production.planning.season_file import (
    BadFile,
    Goodness,
    PlanFile,
    PlannedLine,
    SeasonFile,
    plan_from,
    read_plan,
    read_season,
    season_from,
    write_plan,
    write_season,
)
from tests.planning import spoilt

FOLDER = Path(__file__).parent / "season_files"
FITS, NOT_NOW, NEVER = "fits", "not beside the others", "impossible"

# What must be answered, line by line: what the note of each file says it is there for.
ANSWERS = {
    "cold_frame": [FITS, FITS],
    "cold_germination": [NEVER, NEVER, NEVER, NEVER],
    "full_chamber": [FITS, FITS, NOT_NOW],
    "public_holidays": [FITS, FITS, NEVER],
    "quiet_spring": [FITS, FITS, FITS],
    "two_skills": [FITS, FITS, NOT_NOW],
    "under_way": [FITS],
}


def season(name: str) -> SeasonFile:
    return read_season((FOLDER / f"{name}.json").read_text())


def said(line: PlannedLine) -> str:
    assert line.answer
    if line.answer.fits:
        assert line.plan
        return FITS
    assert line.plan is None
    return NEVER if line.answer.impossible else NOT_NOW


def test_every_file_is_looked_at() -> None:
    assert {path.stem for path in FOLDER.glob("*.json")} == set(ANSWERS)


@pytest.mark.parametrize("name", ANSWERS)
def test_a_season_file_says_why_it_is_there_and_is_as_we_write_it(name: str) -> None:
    file = season(name)
    assert len(file.note) > 60
    assert write_season(file) == (FOLDER / f"{name}.json").read_text()


@pytest.mark.parametrize("name", ANSWERS)
def test_a_season_is_planned_and_its_plan_passes_the_referee(name: str) -> None:
    file = season(name)
    plan = plan_of(file)
    assert [said(line) for line in plan.lines] == ANSWERS[name]
    verdict = judge_plan(file, read_plan(write_plan(plan), file))
    assert (verdict.faults, verdict.conflicts) == ((), ())


def test_in_the_full_chamber_the_second_gives_way_and_the_third_hears_of_days_that_fit() -> None:
    first, second, third = plan_of(season("full_chamber")).lines
    assert first.plan
    assert second.plan
    assert third.answer
    assert first.plan.pickup == first.wish.pickup
    assert 0 < abs((second.plan.pickup - second.wish.pickup).days) <= 7
    assert {each.key for each in third.answer.conflicts} == {"healing"}
    assert third.answer.earlier
    assert third.answer.later
    assert third.answer.earlier < third.wish.pickup < third.answer.later


def test_where_skills_meet_the_set_of_both_is_what_lacks() -> None:
    """Hall's condition (1935): each skill may be covered by itself and both together not."""
    *_, last = plan_of(season("two_skills")).lines
    assert last.answer
    assert "crew+graft" in {each.key for each in last.answer.conflicts}


@pytest.mark.parametrize("name", ANSWERS)
def test_the_load_of_a_plan_adds_up_to_its_stays_and_what_is_taken(name: str) -> None:
    """Place by place: load × nights from today on, summed by hand."""
    file = season(name)
    plan, today = plan_of(file), file.season.today
    stays = [stay for each in plan.plans for stay in each.stays]
    for place in file.season.places:
        told = sum(
            run.load * run.nights for each in plan.load.places if each.place == place.key for run in each.nights
        )
        spans = [(s.first, s.leaves, s.load) for s in (*stays, *file.season.room) if s.place == place.key]
        held = sum(load * max((leaves - max(first, today)).days, 0) for first, leaves, load in spans)
        assert told == pytest.approx(held, abs=1e-3)


# --- whatever a readable file holds --------------------------------------------------------------------------


def test_a_share_next_to_nothing_is_answered_and_stops_no_other_line() -> None:
    """No amount of seed gives the plants: that is impossible, and the lines after it get their answers."""
    file = season("quiet_spring")
    value = json.loads(write_season(file))
    of_first = value["lines"][0]["scion"]
    value["materials"].append(
        next(each for each in value["materials"] if each["key"] == of_first) | {"key": "poor"}
    )
    value["materials"][-1]["usable"] = {"mean": 1e-9}
    value["lines"][0]["scion"] = "poor"
    first, *others = plan_of(season_from(value)).lines
    assert first.answer
    assert first.answer.impossible
    assert first.answer.impossible.field == "quantity"
    assert [said(line) for line in others] == [FITS, FITS]


@settings(max_examples=25)
@given(st.integers(0, 2**64 - 1))
def test_whatever_can_be_read_is_answered_and_its_plan_passes_the_referee(seed: int) -> None:
    """One to three numbers of a season file are changed, to what no nursery has; no answer is a crash."""
    chance = Random(seed)
    value = json.loads((FOLDER / f"{chance.choice(list(ANSWERS))}.json").read_text())
    for _ in range(chance.randint(1, 3)):
        _change_a_number(value, chance)
    try:
        file = season_from(value)
    except BadFile:
        return
    plan = read_plan(write_plan(plan_of(file)), file)
    assert judge_plan(file, plan).faults == ()


def _change_a_number(value: Any, chance: Random) -> None:
    within = [value]
    for each in within:
        within += [deeper for deeper in (each.values() if isinstance(each, dict) else each) if is_group(deeper)]
    numbers = [
        (group, name)
        for group in within
        for name, each in (group.items() if isinstance(group, dict) else enumerate(group))
        if isinstance(each, int | float) and not isinstance(each, bool)
    ]
    group, name = chance.choice(numbers)
    group[name] = chance.choice((0, 1, -5, group[name] * 10, group[name] / 10, group[name] + 1, 30, 365))


def is_group(value: Any) -> bool:
    return isinstance(value, dict | list)


# --- judging -----------------------------------------------------------------------------------------------


def as_json(file: SeasonFile) -> dict[str, Any]:
    value: dict[str, Any] = json.loads(write_plan(plan_of(file)))
    return value


def later_graft(part: dict[str, Any]) -> None:
    part["graft_day"] = part["ready"]


def one_night_less(part: dict[str, Any]) -> None:
    part["stays"][-1]["nights"] -= 1


def half_the_hours(part: dict[str, Any]) -> None:
    graft = next(work for work in part["works"] if work["kind"] == "graft")
    graft["hours"][0]["hours"] /= 2


def nobody_sows(part: dict[str, Any]) -> None:
    part["works"] = [work for work in part["works"] if work["kind"] != "sow"]


@pytest.mark.parametrize(
    ("spoil", "rule"),
    [
        (later_graft, "graftable"),
        (one_night_less, "contiguous"),
        (half_the_hours, "hours"),
        (nobody_sows, "work"),
    ],
)
def test_a_plan_spoilt_in_its_file_is_found_out(spoil: Callable[[dict[str, Any]], None], rule: str) -> None:
    file = season("quiet_spring")
    value = as_json(file)
    spoil(value["lines"][0]["plan"]["parts"][0])
    faults = judge_plan(file, plan_from(value, file)).faults
    assert rule in {fault.rule for fault in faults}
    assert {fault.line for fault in faults} == {"Order 1"}


def test_a_plan_for_all_in_one_chamber_is_possible_and_in_conflict() -> None:
    """Every line where it would stand alone: the referee allows it and tells the overload."""
    file = season("full_chamber")
    lines = [plan_of(SeasonFile(file.season, (wish,))).lines[0] for wish in file.lines]
    verdict = judge_plan(file, PlanFile(file.season.today, tuple(lines), Goodness("each as if alone")))
    assert verdict.faults == ()
    assert "healing" in {conflict.key for conflict in verdict.conflicts}


@pytest.mark.parametrize("seed", [1, 2, 5])
def test_plans_for_the_comparison_of_referees_are_judged_the_same_each_time(seed: int) -> None:
    """`python -m tests.planning.spoilt FOLDER` writes 50 of them for whoever writes another referee."""
    one, other = spoilt.pair(seed), spoilt.pair(seed)
    assert (one.season, one.plan) == (other.season, other.plan)
    assert json.loads(json.dumps(one.said)) == other.said
    assert {each[0] for each in one.said["impossible"]} == one.rules


def test_what_was_promised_and_is_planned_again_gives_its_claims_back() -> None:
    file = season("under_way")
    plan = plan_of(file)
    again = tuple(PlannedLine(each.plan.wish, None, each.plan) for each in file.promised)
    both = PlanFile(plan.today, plan.lines + again, Goodness("with the promised ones as they are"))
    verdict = judge_plan(file, both)
    assert (verdict.faults, verdict.conflicts) == ((), ())
    assert len(conflicts(file.season, both.plans)) > 0, "counted twice, they would not fit"


def test_two_parts_of_one_number_are_told_also_if_it_is_under_way() -> None:
    file = season("under_way")
    begun = file.promised[0].plan
    twice = PlannedLine(begun.wish, None, replace(begun, parts=begun.parts * 2))
    plan = PlanFile(file.season.today, (*plan_of(file).lines, twice), Goodness("one part twice"))
    assert {(fault.rule, fault.part) for fault in judge_plan(file, plan).faults} == {("no part", None)}


def test_what_has_happened_is_history_only_of_a_part_that_is_under_way() -> None:
    file = season("under_way")
    again = tuple(PlannedLine(each.plan.wish, None, each.plan) for each in file.promised)
    plan = PlanFile(file.season.today, plan_of(file).lines + again, Goodness("as they are"))
    fresh = SeasonFile(file.season, file.lines, tuple(type(each)(each.plan) for each in file.promised))
    assert {fault.rule for fault in judge_plan(fresh, plan).faults} == {"past"}
