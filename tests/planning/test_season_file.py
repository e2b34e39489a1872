"""Season and plan files: what is written reads back the same, and what is wrong is told, all of it, by its path.

The published schema is read by jsonschema, an independent implementation of JSON Schema 2020-12.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields, replace
from datetime import timedelta
from math import inf
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from production.planning.filed import plan_of
from production.planning.promise import plan_as_asked
from production.planning.season_file import (
    BadFile,
    Goodness,
    PlanFile,
    Promised,
    SeasonFile,
    parsed,
    read_plan,
    read_season,
    season_from,
    write_plan,
    write_season,
)
from production.planning.season_file.lines import Course
from production.planning.season_file.plan import PLAN as PLAN_SHAPE
from production.planning.season_file.records import Group, Record
from production.planning.season_file.schema import published
from production.planning.season_file.season import SEASON as SEASON_SHAPE
from production.planning.season_file.shapes import Shape
from production.planning.terms import (
    Conflict,
    Done,
    Entered,
    LinePlan,
    PartFacts,
    PartPlan,
    Place,
    Rate,
    Recipe,
    Season,
    SowingFacts,
    Stage,
    Wish,
)
from tests.planning import nursery, seasons
from tests.planning.nursery import MONDAY

DAY = timedelta(days=1)
SEASON, PLAN = sorted(published(), reverse=True)

seeds = st.integers(0, 2**64 - 1)


def drawn(seed: int) -> SeasonFile:
    chance = Random(seed)
    season = seasons.season(chance)
    lines = tuple(seasons.wish(chance, f"line {number}") for number in range(chance.randint(0, 4)))
    return SeasonFile(season, lines, note=chance.choice(("", "drawn by “chance” – ½")))


def with_promised() -> SeasonFile:
    """A line that is under way, one that is only promised, and one that is asked."""
    begun = plan_as_asked(nursery.season(), nursery.wish(key="begun"))
    later = plan_as_asked(nursery.season(), nursery.plain_wish(key="later"))
    facts = PartFacts(
        sowings=(SowingFacts("scion", sown=MONDAY, seeds=90, emerged=80, emerged_on=MONDAY + 6 * DAY),),
        entered=(Entered("scion-germinating", MONDAY, 2),),
        done=(Done("sow", "scion", "scion-germinating", 2),),
        lost_after_take=2,
    )
    promised = (Promised(begun, ((1, facts),)), Promised(later))
    return SeasonFile(nursery.season(), (nursery.room_wish(),), promised)


def schema(path: Any) -> Draft202012Validator:
    return Draft202012Validator(json.loads(path.read_text()))


# --- there and back ----------------------------------------------------------------------------------------


@given(seeds)
def test_a_season_reads_back_as_it_was_written(seed: int) -> None:
    file = drawn(seed)
    text = write_season(file)
    assert read_season(text) == file
    assert write_season(read_season(text)) == text
    schema(SEASON).validate(json.loads(text))


def test_what_is_promised_and_under_way_reads_back_with_what_is_recorded() -> None:
    file = with_promised()
    text = write_season(file)
    assert read_season(text) == file
    schema(SEASON).validate(json.loads(text))


@pytest.mark.parametrize("seed", range(8))
def test_a_plan_reads_back_as_it_was_written(seed: int) -> None:
    file = drawn(seed)
    plan = plan_of(file)
    text = write_plan(plan)
    assert read_plan(text, file) == plan
    schema(PLAN).validate(json.loads(text))


def test_how_good_a_plan_is_has_room_for_a_proven_bound() -> None:
    goodness = Goodness("levelled", "weighted days late", 12.0, 9.5)
    plan = PlanFile(MONDAY, (), goodness)
    assert read_plan(write_plan(plan), SeasonFile(nursery.season())).goodness == goodness


def test_what_two_lines_share_is_written_once_and_what_differs_under_one_key_stays_apart() -> None:
    sharper = nursery.scion(emerged=Rate(0.99))
    wishes = (nursery.wish(key="a"), nursery.wish(key="b"), nursery.wish(key="c", scion=sharper))
    value = json.loads(write_season(SeasonFile(nursery.season(), wishes)))
    assert [each["key"] for each in value["recipes"]] == ["tomato-splice"]
    assert [(each["key"], each.get("code")) for each in value["materials"] if "scion" in each["key"]] == [
        ("scion", None),
        ("scion~2", "scion"),
    ]
    assert [line["scion"] for line in value["lines"]] == ["scion", "scion", "scion~2"]
    assert season_from(value).lines == wishes


def test_what_has_its_default_is_not_written_and_need_not_be() -> None:
    value = json.loads(write_season(SeasonFile(nursery.season(), (nursery.wish(),))))
    assert not {"level", "weight", "leaders", "topped", "room"} & value["lines"][0].keys()
    assert "open" not in value["places"][0]


def test_a_share_known_exactly_has_no_weight() -> None:
    """Beta of infinite weight; JSON (RFC 8259) has no infinity."""
    file = SeasonFile(nursery.season(), (nursery.wish(scion=nursery.scion(emerged=Rate(0.9, inf))),))
    text = write_season(file)
    assert '"emerged": {"mean": 0.9, "weight": null}' in text
    assert read_season(text) == file


def records(shape: Shape, found: dict[type, Record]) -> dict[type, Record]:
    """All records that a file is made of, by the class that each makes."""
    if isinstance(shape, Record) and not isinstance(shape, Group) and shape.make not in found:
        found[shape.make] = shape  # type: ignore[index]
    inner = shape.shapes.values() if isinstance(shape, Record) else vars(shape).values()
    for each in inner:
        if isinstance(each, Shape) and not (isinstance(each, Record) and each.make in found):
            records(each, found)
    return found


def test_no_field_of_a_term_is_left_out_of_the_files() -> None:
    """A term that gets a field gets it in the file as well, or what is read back is not what was written."""
    found = records(SEASON_SHAPE, {}) | records(PLAN_SHAPE, {})
    assert {Place, Stage, Recipe, Wish, PartPlan, PartFacts, Conflict} <= found.keys()
    for made, record in found.items():
        assert {each.name for each in fields(made)} == set(record.attributes.values()), made.__name__
    written_apart = {"today", "calendar", "places", "people", "prices", "room", "hands"}
    assert {each.name for each in fields(Season)} == written_apart
    assert {each.name for each in fields(LinePlan)} == {each.name for each in fields(Course)} | {"wish"}


# --- the published schemas ---------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [SEASON, PLAN], ids=lambda path: path.name)
def test_the_published_schema_is_the_one_the_reader_keeps_to(path: Any) -> None:
    """`python -m production.planning.season_file.schema` writes it again."""
    assert path.read_text() == published()[path]
    Draft202012Validator.check_schema(json.loads(path.read_text()))


@given(seeds)
def test_what_the_schema_refuses_the_reader_refuses(seed: int) -> None:
    """One value of a good file is changed, taken out or added; the reader is never the milder of the two."""
    chance = Random(seed)
    value = json.loads(write_season(drawn(chance.randrange(50))))
    _spoil(value, chance)
    allowed = schema(SEASON).is_valid(value)
    if not allowed:
        assert all(said for _path, said in refused(value))
        return
    with suppress(BadFile):  # for what no schema can say: an order of sums, a key that nothing has
        assert season_from(value)


ODD_VALUES = (None, True, -1, 0, 1, 2.5, 1e12, "", "x" * 300, "2027-02-31", "graft", [], {}, [[]], {"key": 1})


def _spoil(value: Any, chance: Random) -> None:
    within = [value]
    for each in within:
        inner = each.values() if isinstance(each, dict) else each
        within += [deeper for deeper in inner if isinstance(deeper, dict | list) and deeper]
    group = chance.choice(within)
    name = chance.choice(list(group) if isinstance(group, dict) else range(len(group)))
    do = chance.choice(("change", "take out", "add"))
    if do == "change":
        group[name] = chance.choice(ODD_VALUES)
    elif do == "take out":
        del group[name]
    elif isinstance(group, dict):
        group["surplus"] = 1
    else:
        group.append(group[name])


# --- what is wrong -----------------------------------------------------------------------------------------


def good() -> dict[str, Any]:
    lines = tuple(nursery.wish(key=f"line {number}") for number in range(4))
    claim = seasons.room_claim(Random(1))
    value: dict[str, Any] = json.loads(write_season(SeasonFile(nursery.season(room=(claim,)), lines)))
    return value


def refused(value: Any) -> list[tuple[str, str]]:
    with pytest.raises(BadFile) as bad:
        season_from(value)
    return [(fault.path, fault.reason + fault.mend) for fault in bad.value.faults]


def put(*way: Any) -> Callable[[Any], None]:
    """Set the value at the end of a way through the file; `None` as the value takes it out."""
    *steps, name, new = way

    def changed(value: Any) -> None:
        for step in steps:
            value = value[step]
        value[name] = new

    return changed


RULE = "recipes[0].union[0].works[0]"
WRONG: list[tuple[Callable[[Any], None], str, str]] = [
    (put("lines", 3, "pickup", "21.4.2027"), "lines[3].pickup", "year-month-day"),
    (put("lines", 3, "pickup", "2027-02-30"), "lines[3].pickup", "calendar"),
    (put("lines", 3, "pickup", "2097-02-03"), "lines[3].pickup", "too far from today"),
    (put("lines", 0, "quantity", 2.5), "lines[0].quantity", "whole number"),
    (put("lines", 0, "quantity", -1), "lines[0].quantity", "out of range"),
    (put("lines", 0, "quantity", True), "lines[0].quantity", "true is no number"),
    (put("lines", 0, "kind", "grafed"), "lines[0].kind", "grafted, plain, room"),
    (put("lines", 0, "pikup", "2027-02-03"), "lines[0].pikup", "“pickup”"),
    (put("lines", 1, "key", "line 0"), "lines[1].key", "taken already"),
    (put("lines", 0, "recipe", "no such"), "lines[0].recipe", "Name one of recipes"),
    (put("containers", 0, "plants", 0), "containers[0].plants", "from 1"),
    (put("recipes", 0, "union", 0, "container", "bucket"), "recipes[0].union[0].container", "no \"bucket\""),
    (put("recipes", 0, "union", 0, "nights", "longest", 1), "recipes[0].union[0].nights.usual", "≤"),
    (put("recipes", 0, "union", 1, "key", "healing"), "recipes[0].union", "“healing” is the key of two"),
    (put("recipes", 0, "scion", 1, "key", "waiting"), "recipes[0].scion", "none “waiting”"),
    (put("materials", 0, "clock", "graftable_last", 1), "materials[0].clock.graftable_aim", "first ≤ aim ≤ last"),
    (put("people", 0, "hours", [8, 8, 8]), "people[0].hours", "exactly 7"),
    (put("calendar", "open_weekdays", ["monday", "monday"]), "calendar.open_weekdays", "listed twice"),
    (put("taken", "room", 0, "place", "attic"), "taken.room[0].place", "no \"attic\" in places"),
    (put("format", "something else"), "format", "season of a grafting nursery"),
    (put("version", 2), "version", "Choose one of: 1"),
    (put("note", "\ud800"), "note", "character"),
    (put("people", 0, "skills", [f"skill {n}" for n in range(9)]), f"{RULE}.hands[0].skill", "Name 10 at most"),
]  # fmt: skip


@pytest.mark.parametrize(("spoil", "path", "words"), WRONG)
def test_a_fault_names_its_path_its_reason_and_how_to_mend_it(spoil: Any, path: str, words: str) -> None:
    value = good()
    spoil(value)
    ((where, said),) = refused(value)
    assert where == path
    assert words in said


def test_all_faults_are_told_at_once() -> None:
    """One of each field that can be wrong: what is wrong in one place keeps nothing else from being looked at."""
    value = good()
    apart = ("recipes[0].union", "recipes[0].scion")  # of a recipe with a faulty stage the keys are not compared
    spoils = {path: spoil for spoil, path, _words in WRONG if path not in apart}
    for spoil in spoils.values():
        spoil(value)
    assert sorted(path for path, _said in refused(value)) == sorted(spoils)


def test_what_refers_to_a_faulty_entry_is_not_blamed_as_well() -> None:
    value = good()
    value["containers"][0]["plants"] = 0
    assert [path for path, _said in refused(value)] == ["containers[0].plants"]


def test_two_entries_of_a_table_may_not_have_one_key() -> None:
    value = good()
    value["containers"].append(value["containers"][0])
    ((path, said),) = refused(value)
    assert (path, "taken already" in said) == ("containers[2].key", True)


def test_a_field_that_is_missing_is_named() -> None:
    value = good()
    del value["lines"][2]["pickup"], value["today"]
    assert {path for path, _said in refused(value)} == {"lines[2].pickup", "today"}


@pytest.mark.parametrize("value", [None, [], 3, "season"])
def test_what_is_no_season_at_all_is_refused(value: Any) -> None:
    assert [path for path, _said in refused(value)] == [""]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no JSON"),
        ('{"format": }', "line 1, column 12"),
        ('{"version": 1, "version": 1}', "“version” stands twice"),
        ('{"version": NaN}', "NaN is no number"),
        ("[" * 100_000, "without end"),
        (f"[{'9' * 5000}]", "mend"),
    ],
    ids=["empty", "broken", "named twice", "no number", "deep", "endless number"],
)
def test_text_that_is_no_json_is_refused(text: str, words: str) -> None:
    with pytest.raises(BadFile) as bad:
        parsed(text)
    assert words.lower() in str(bad.value).lower()


# --- a plan beside its season ------------------------------------------------------------------------------


def plan_refused(file: SeasonFile, value: Any) -> list[tuple[str, str]]:
    with pytest.raises(BadFile) as bad:
        read_plan(json.dumps(value), file)
    return [(fault.path, fault.reason) for fault in bad.value.faults]


def test_a_plan_says_something_of_every_line_that_is_asked_and_of_no_other() -> None:
    file = SeasonFile(nursery.season(), (nursery.wish(key="a"), nursery.wish(key="b")))
    value = json.loads(write_plan(plan_of(file)))
    value["lines"] = [value["lines"][0], value["lines"][0], {"line": "c"}]
    assert plan_refused(file, value) == [
        ("lines[1].line", '"a" is taken already.'),
        ("lines[2].line", 'There is no "c" in the lines of the season.'),
        ("lines", "Nothing is said of “b”."),
    ]


def test_a_plan_of_another_day_is_no_plan_of_this_season() -> None:
    file = SeasonFile(nursery.season(), ())
    value = json.loads(write_plan(plan_of(file)))
    assert plan_refused(replace(file, season=replace(file.season, today=MONDAY + DAY)), value) == [
        ("today", "The plan is of 2026-03-02, and the season of 2026-03-03.")
    ]
