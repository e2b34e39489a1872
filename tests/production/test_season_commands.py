"""plan_season, level_season, judge_plan: files in, a plan file and words out, exit codes for a script."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

FOLDER = Path(__file__).parents[1] / "planning" / "season_files"
CHAMBER = FOLDER / "full_chamber.json"


def run(*arguments: object) -> tuple[int, str]:
    out = StringIO()
    try:
        call_command(*map(str, arguments), stdout=out)
    except SystemExit as left:
        return int(left.code or 0), out.getvalue()
    return 0, out.getvalue()


@pytest.fixture
def plan(tmp_path):
    path = tmp_path / "plan.json"
    run("plan_season", CHAMBER, "--plan", path)
    return path


def changed(plan: Path, change) -> Path:
    value = json.loads(plan.read_text())
    change(value)
    plan.write_text(json.dumps(value))
    return plan


def test_planning_says_what_each_line_gets_and_when_the_others_would_fit(plan):
    code, said = run("plan_season", CHAMBER)
    assert code == 0
    assert "Order first: fits, pickup Mon 11 May 2026." in said
    assert "Order third: it does not fit.\n  healing, nights of" in said
    assert "It would fit on Sat 2 May 2026 or on Sat 16 May 2026." in said


def test_a_good_plan_is_judged_good(plan):
    assert run("judge_plan", CHAMBER, plan) == (0, "Nothing in this plan is impossible.\n")


def test_what_is_impossible_is_told_with_batch_place_day_and_amount(plan):
    def spoil(value):
        stay = next(s for s in value["lines"][0]["plan"]["parts"][0]["stays"] if s["stage"] == "healing")
        stay["nights"] = 9

    code, said = run("judge_plan", CHAMBER, changed(plan, spoil))
    assert code == 1
    assert "stage length: Order first, part 1, " in said
    assert ", 9: healing lasts 9 nights, not 6 to 6." in said


def test_a_conflict_fails_only_when_strict(plan):
    def spoil(value):
        value["lines"][2]["plan"] = value["lines"][0]["plan"]  # the third as the first, on the same nights

    changed(plan, spoil)
    code, said = run("judge_plan", CHAMBER, plan)
    assert code == 0
    assert "In conflict:\n  healing, nights of" in said
    assert run("judge_plan", CHAMBER, plan, "--strict")[0] == 1


def refused(*arguments: object) -> tuple[int, str]:
    with pytest.raises(CommandError) as wrong:
        run(*arguments)
    return wrong.value.returncode, str(wrong.value)


def test_a_file_that_is_no_season_is_refused_with_all_that_is_wrong(tmp_path):
    bad = tmp_path / "bad.json"
    bad.write_text('{"format": "season of a grafting nursery", "version": 3, "todday": "2027-01-01"}')
    code, said = refused("plan_season", bad)
    assert code == 2
    assert "bad.json is not read; nothing is done." in said
    assert "version: 3 is not known here. Choose one of: 1." in said
    assert "todday: There is no such field here. Write “today” if that is meant." in said


def test_a_plan_of_another_season_is_refused(plan):
    code, said = refused("judge_plan", FOLDER / "cold_frame.json", plan)
    assert code == 2
    assert 'lines[0].line: There is no "first" in the lines of the season.' in said


def test_files_that_are_not_there_or_no_text_are_refused(tmp_path):
    code, said = refused("plan_season", tmp_path / "none.json")
    assert (code, "cannot be read: No such file or directory." in said) == (2, True)
    (tmp_path / "latin.json").write_bytes("Gärtner".encode("latin-1"))
    assert "UTF-8" in refused("plan_season", tmp_path / "latin.json")[1]


def test_a_plan_that_cannot_be_written_is_said(tmp_path):
    code, said = refused("plan_season", CHAMBER, "--plan", tmp_path / "none" / "plan.json")
    assert (code, "cannot be written" in said) == (2, True)


def test_levelling_tells_moves_and_writes_a_plan_that_is_judged_good(tmp_path):
    path = tmp_path / "levelled.json"
    code, said = run("level_season", CHAMBER, "--plan", path, "--rounds", "20")
    assert code == 0
    assert said.startswith("1 line without room and none is late")
    assert "Room for it: graft on" in said
    assert run("judge_plan", CHAMBER, path, "--strict")[0] == 0
    assert json.loads(path.read_text())["goodness"]["measure"]


def test_a_line_that_may_be_late_finds_its_room_later():
    _code, strict = run("level_season", CHAMBER, "--rounds", "20")
    _code, late = run("level_season", CHAMBER, "--rounds", "20", "--late", "30")
    assert "No room for: " in strict
    assert "No room for" not in late
    assert "All have room and 2 days late in all" in late
    assert "Nothing better is possible." in late


@pytest.mark.parametrize("wrong", [["--rounds", "-1"], ["--rounds", "many"], ["--late", "4000"]])
def test_a_number_that_is_none_is_refused(wrong):
    with pytest.raises(CommandError, match="no whole number"):
        run("level_season", CHAMBER, *wrong)
