"""Plans that tell readings of FORMAT.md apart: each breaks a sentence as somebody may misread it, or seems to.

Every function below changes one good plan; its docstring is the sentence that is tried and the `note` of
the plan. Beside it stands what the page says of the plan, by hand: rule, line and part of all that is impossible;
key, first, last, peak and there of all that is in conflict.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from production.planning.filed import plan_of
from production.planning.season_file import read_season, write_plan

Json = Any
Said = tuple[tuple[Any, ...], ...]
FOLDER = Path(__file__).parent / "season_files"


@dataclass(frozen=True)
class Draft:
    """A season and a plan of it, as JSON that may be changed."""

    season: Json
    plan: Json

    def course(self, line: str) -> Json:
        return next(each["plan"] for each in self.plan["lines"] if each["line"] == line)

    def part(self, line: str) -> Json:
        return self.course(line)["parts"][0]

    def of(self, line: str, group: str, **fields: str) -> Json:
        """The first sowing, stay or work of a line with these values."""
        return next(each for each in self.part(line)[group] if fields.items() <= each.items())

    def again(self, line: str, group: str, changes: Json, **fields: str) -> None:
        """One more of it, changed."""
        self.part(line)[group].append(deepcopy(self.of(line, group, **fields)) | changes)

    def sown_again(self, line: str, side: str, **changes: Any) -> None:
        """One more sowing of a side as the first, with stays and work of its own."""
        self.again(line, "sowings", {"number": 2} | changes, subject=side)
        for group in ("stays", "works"):
            own = [each for each in self.part(line)[group] if each["subject"] == side]
            self.part(line)[group] += [deepcopy(each) | {"sowing": 2} for each in own]

    def check(self, line: str, **changes: Any) -> None:
        """One more piece of work, which nobody asks for."""
        work = {"kind": "check", "subject": "union", "stage": "growing", "part": "day", "plants": 1, "hours": []}
        self.part(line)["works"].append(work | changes)

    def named(self, table: str, key: str) -> Json:
        """A place, a material, … of the season."""
        return next(each for each in self.season[table] if each["key"] == key)

    def stage(self, key: str) -> Json:
        return next(each for recipe in self.season["recipes"] for each in recipe["union"] if each["key"] == key)

    def asked(self, line: str) -> Json:
        both = [*self.season["lines"], *(each["line"] for each in self.season.get("promised", ()))]
        return next(each for each in both if each["key"] == line)

    def begun(self, line: str) -> Json:
        """What is recorded of the first part of a line, which is under way from now on, if it was not."""
        promised = next(each for each in self.season["promised"] if each["line"]["key"] == line)
        return promised.setdefault("begun", [{"part": 1, "recorded": {}}])[0]["recorded"]

    def claim(self, day: str, **hours: float) -> None:
        asked = [{"skill": skill, "hours": amount} for skill, amount in hours.items()]
        claim = {"owner": "others", "label": "Others", "day": day, "hours": asked}
        self.season.setdefault("taken", {}).setdefault("hands", []).append(claim)


@dataclass(frozen=True)
class Reading:
    """A draft as it is changed, and what must be said of it."""

    season: Json
    plan: Json
    impossible: Said
    conflicts: Said


Change = Callable[[Draft], None]
_WRITTEN: dict[str, tuple[Change, Callable[[], Draft], Said, Said]] = {}


@cache
def spring() -> Draft:
    """Line 1 grafted, 2 plain, 3 room; nothing is under way. Planned by our planner, which the referee passes."""
    text = (FOLDER / "quiet_spring.json").read_text()
    return Draft(json.loads(text), json.loads(write_plan(plan_of(read_season(text)))))


@cache
def living() -> Draft:
    """`begun` is grafted and healing, `later` is promised and not sown; both stand in the plan as promised."""
    season = json.loads((FOLDER / "under_way.json").read_text())
    lines = [{"line": "new", "plan": None}]
    lines += [{"line": each["line"]["key"], "plan": each["plan"]} for each in season["promised"]]
    goodness = {"how": "as promised"}
    plan = {"format": "plan of a grafting nursery", "version": 1, "today": season["today"], "goodness": goodness}
    return Draft(season, plan | {"lines": lines})


def _reading(
    draft: Callable[[], Draft], impossible: Said = (), conflicts: Said = ()
) -> Callable[[Change], Change]:
    def kept(change: Change) -> Change:
        _WRITTEN[change.__name__] = (change, draft, impossible, conflicts)
        return change

    return kept


def readings() -> dict[str, Reading]:
    return {name: _made(*written) for name, written in _WRITTEN.items()}


def _made(change: Change, draft: Callable[[], Draft], impossible: Said, conflicts: Said) -> Reading:
    made = deepcopy(draft())
    change(made)
    made.plan["note"] = change.__doc__ or ""
    return Reading(made.season, made.plan, impossible, conflicts)


# --- whose fault it is -------------------------------------------------------------------------------------


@_reading(living, impossible=(("latitude", "begun", None), ("contiguous", "begun", 1)))
def faults_of_the_line(draft: Draft) -> None:
    """Faults under The line have no part, also where a part under way is judged by itself."""
    draft.course("begun")["pickup"] = "2026-05-05"


@_reading(
    spring, impossible=(("latitude", "2", None), ("late", "2", 1), ("stage length", "2", 1), ("work", "2", 1))
)
def lines_are_named_by_key(draft: Draft) -> None:
    """Lines are named by key: here all three have one label. (Ready late, line 2 waits for less than 0 nights.)"""
    for line in draft.season["lines"]:
        line["label"] = "Order"
    draft.course("2")["pickup"] = "2026-05-09"


@_reading(
    living,
    impossible=(("no part", "begun", None),),
    conflicts=(("healing", "2026-04-16", "2026-04-17", 4, 3),),
)
def two_parts_of_one_number(draft: Draft) -> None:
    """Two parts of one number that is under way are told."""
    draft.course("begun")["parts"] *= 2


# --- sowing and clocks -------------------------------------------------------------------------------------


@_reading(living, impossible=(("material", "later", 1),))
def seeds_of_another_material(draft: Draft) -> None:
    """A sowing is one of a side by its subject, whatever its material: there are seeds enough, of a wrong kind."""
    draft.of("later", "sowings", subject="rootstock")["material"] = "x"


@_reading(living, impossible=(("material", "later", 1), ("temperature", "later", 1)))
def clock_of_another_material(draft: Draft) -> None:
    """The clock is that of the side, also where the sowing names another material."""
    for sowing in draft.part("later")["sowings"]:
        sowing["material"] = "x"
    draft.named("places", "germination")["warmth"] = {"usual": 33}


@_reading(living, impossible=(("temperature", "later", 1),))
def two_degrees_above_the_base(draft: Draft) -> None:
    """At exactly emergence_base + 2 the clock says nothing, and then emergence is not asked."""
    for material in draft.season["materials"]:
        material["clock"]["emergence_base"] = 23


@_reading(living)
def a_hair_above_two_degrees(draft: Draft) -> None:
    """A rule that writes no ease is compared exactly: 1e-7 above emergence_base + 2 is above."""
    for material in draft.season["materials"]:
        material["clock"] |= {"emergence_base": 23, "emergence_sum": 12}
    draft.named("places", "germination")["warmth"] = {"usual": 25.0000001}


@_reading(living)
def exactly_at_the_ceiling(draft: Draft) -> None:
    """The ceiling itself is allowed."""
    for material in draft.season["materials"]:
        material["clock"]["emergence_ceiling"] = 25


@_reading(living)
def two_spells_of_one_night(draft: Draft) -> None:
    """The first spell that holds a night counts, not the last, nor the usual."""
    year = {"first": "2026-01-01", "last": "2026-12-31"}
    spells = [{"during": year, "degrees": 25}, {"during": year, "degrees": 5}]
    draft.named("places", "germination")["warmth"] = {"usual": 40, "spells": spells}


@_reading(living)
def two_sowings_of_one_day(draft: Draft) -> None:
    """Sowings of one day germinate each by itself: 14 seeds in 1 tray, and 73 of the second in 2 of its own."""
    draft.sown_again("later", "rootstock", seeds=73, trays=2)
    draft.of("later", "sowings", subject="rootstock").update(seeds=14, trays=1)


@_reading(living, impossible=(("containers", "later", 1),))
def two_sowings_share_no_tray(draft: Draft) -> None:
    """14 seeds and 73 are 87, which would go into 2 trays; but they are two sowings, of 1 tray and of 2."""
    draft.sown_again("later", "rootstock", seeds=73, trays=2)
    draft.of("later", "sowings", subject="rootstock").update(seeds=14, trays=1)
    for stay in draft.part("later")["stays"]:
        if stay["subject"] == "rootstock":
            stay.update(containers=1, load=stay["load"] / stay["containers"])


@_reading(living, impossible=(("sowing", "later", 1),))
def two_sowings_of_one_number(draft: Draft) -> None:
    """A number that is absent is 1: two sowings of a side without numbers have one."""
    draft.sown_again("later", "rootstock", seeds=73, trays=2)
    for sowing in draft.part("later")["sowings"]:
        sowing.pop("number", None)
    for each in (*draft.part("later")["stays"], *draft.part("later")["works"]):
        each.pop("sowing", None)


@_reading(living, impossible=(("sowing", "later", 1), ("work", "later", 1)))
def work_of_another_sowing(draft: Draft) -> None:
    """Work is of the sowing that it names: sowing the scion a second time is not sowing it the first time."""
    draft.of("later", "works", kind="sow", subject="scion")["sowing"] = 2


@_reading(living)
def sowings_after_the_graft(draft: Draft) -> None:
    """After the graft a number of a sowing has no meaning: of a stay, of work, and of what is done."""
    draft.begun("begun").setdefault("done", []).append(
        {"kind": "pot", "subject": "union", "stage": "growing", "sowing": 7}
    )
    draft.check("begun", kind="pot", day=SUNDAY, sowing=5)
    draft.of("later", "stays", stage="growing")["sowing"] = 3


@_reading(living)
def chance_within_the_ease(draft: Draft) -> None:
    """A chance that is less than 1e-6 below the level is enough."""
    draft.part("later")["sizing"]["chance"] = 0.9499995


# --- where plants stand ------------------------------------------------------------------------------------


@_reading(living, impossible=(("stage length", "later", 1), ("contiguous", "later", 1)))
def a_stay_that_begins_another_day_leaves_last(draft: Draft) -> None:
    """A step of after is left with its last stay, on whatever day that stay begins: 6 nights, of 4 at most."""
    draft.again("later", "stays", {"first": "2026-05-31", "nights": 5}, stage="cover")


@_reading(living)
def moved_within_a_stage(draft: Draft) -> None:
    """Living plants that were moved within a stage leave it with the last of their stays."""
    draft.of("begun", "stays", stage="healing")["nights"] = 1
    draft.again("begun", "stays", {"first": "2026-04-15", "nights": 3}, stage="healing")


@_reading(spring, impossible=(("graft day", "1", 1), ("contiguous", "1", 1)))
def strays_of_raising_without_a_start(draft: Draft) -> None:
    """Without a start raising is not judged, and its strays are told all the same."""
    draft.part("1")["graft_day"] = None
    draft.of("1", "stays", stage="scion-raising")["first"] = "2026-04-07"


@_reading(spring, impossible=(("graft day", "1", 1),))
def no_strays_of_after_without_a_start(draft: Draft) -> None:
    """Without a start no stray is told of the steps of after."""
    draft.part("1")["graft_day"] = None
    draft.again("1", "stays", {"first": "2026-05-01"}, stage="cover")


@_reading(
    living,
    impossible=(("contiguous", "begun", 1),),
    conflicts=(("healing", "2026-04-17", "2026-04-17", 4, 3),),
)
def strays_of_a_step_that_is_entered(draft: Draft) -> None:
    """Of a step that is entered nothing is asked, but a stay of it that begins another day is a stray."""
    draft.begun("begun")["entered"] = []
    draft.again("begun", "stays", {"first": "2026-04-17", "nights": 1}, stage="healing")


@_reading(living)
def no_strays_of_waiting_that_is_not_judged(draft: Draft) -> None:
    """With ready_on recorded waiting is not judged, nor are its strays told."""
    draft.begun("begun")["ready_on"] = "2026-04-15"
    waits = {"stage": "waiting", "stage_kind": "waiting", "place": "staging", "first": "2026-05-20", "nights": 2}
    draft.again("begun", "stays", waits, stage="growing")


@_reading(living, impossible=(("container", "later", 1),))
def a_step_without_a_container(draft: Draft) -> None:
    """A step without a container is no stay's container; how many there are is not asked, nor the load."""
    draft.asked("later")["container"] = None
    draft.of("later", "stays", stage="growing").update(containers=1, load=3)


@_reading(spring)
def topped_with_one_leader(draft: Draft) -> None:
    """A line with topped and one leader is not topped: no nights are added."""
    draft.asked("1").update(topped=True, leaders=1)


@_reading(spring, impossible=(("containers", "3", 1), ("containers", "3", 2)))
def room_divided_over_parts(draft: Draft) -> None:
    """The containers of room are counted in each part by itself."""
    draft.of("3", "stays").update(containers=2, load=2)
    draft.course("3")["parts"].append(deepcopy(draft.part("3")) | {"number": 2})


# --- what has happened -------------------------------------------------------------------------------------


@_reading(living)
def waiting_is_entered(draft: Draft) -> None:
    """If waiting is in entered, all of after is behind: no stay of it is judged."""
    draft.begun("begun")["entered"].append({"stage": "waiting", "day": "2026-04-16"})
    draft.of("begun", "stays", stage="growing")["place"] = "nowhere"


@_reading(living, impossible=(("place", "begun", 1),))
def ready_is_recorded(draft: Draft) -> None:
    """ready_on puts all of after behind, and not waiting: the stay of waiting is judged."""
    draft.begun("begun")["ready_on"] = "2026-04-16"
    waits = {"stage": "waiting", "stage_kind": "waiting", "place": "nowhere", "first": "2026-05-04", "nights": 1}
    draft.again("begun", "stays", waits, stage="growing")
    draft.of("begun", "stays", stage="growing").update(containers=1)


@_reading(living)
def one_key_on_both_sides(draft: Draft) -> None:
    """A stage is behind by its key alone: raising of both sides, if both sides call it so."""
    draft.begun("later")["entered"] = [{"stage": "raising", "day": "2026-04-16"}]
    for stages in (draft.season["recipes"][0][side] for side in ("rootstock", "scion")):
        stages[1]["key"] = "raising"
    for line in ("begun", "later"):
        for each in (*draft.part(line)["stays"], *draft.part(line)["works"]):
            each["stage"] = "raising" if each["stage"].endswith("raising") else each["stage"]
    draft.of("later", "stays", subject="scion", stage="raising")["place"] = "nowhere"


SHUT: Said = (("hardening", "2026-04-18", "2026-04-19", 2, 0), ("hardening", "2026-05-30", "2026-05-31", 1, 0))


@_reading(living, impossible=(("place closed", "later", 1),), conflicts=SHUT)
def mercy_for_living_plants(draft: Draft) -> None:
    """Where no place of its kind is open, a stay of plants under way is a conflict, and of others impossible."""
    draft.named("places", "hardening")["open"] = [{"first": "2026-01-01", "last": "2026-04-17"}]


@_reading(living, impossible=(("place closed", "begun", 1), ("place closed", "later", 1)), conflicts=SHUT)
def no_mercy_beside_an_open_place(draft: Draft) -> None:
    """Another place of that kind is open on all nights, if full: then living plants have no excuse."""
    shut = draft.named("places", "hardening")
    draft.season["places"].append(deepcopy(shut) | {"key": "other", "name": "other", "capacity": 0.1})
    shut["open"] = [{"first": "2026-01-01", "last": "2026-04-17"}]


@_reading(living)
def handing_over_after_a_closed_day(draft: Draft) -> None:
    """Under way, a pickup that is closed since gives way to the next open day, and so does collection."""
    draft.begun("later")
    draft.asked("later")["collection"] = 2
    draft.season["calendar"]["closed"] = ["2026-06-15"]
    draft.of("later", "works", kind="hand_over")["day"] = "2026-06-16"
    waits = {"stage": "waiting", "stage_kind": "waiting", "place": "staging", "first": "2026-06-15", "nights": 2}
    draft.again("later", "stays", waits, stage="growing")
    draft.of("later", "stays", stage="waiting").update(containers=5, load=5)


@_reading(living, impossible=(("stage length", "later", 1),))
def longest_up_to_an_open_day(draft: Draft) -> None:
    """Under way the longest counts up to the next open day: both covers end on a Monday, one night too late."""
    draft.stage("cover")["nights"] = {"shortest": 0, "usual": 1, "longest": 1}


# --- work --------------------------------------------------------------------------------------------------

SUNDAY = "2026-06-07"


@_reading(living, impossible=(("closed day", "later", 1),))
def potting_is_never_care(draft: Draft) -> None:
    """Potting may not fall on a closed day even if it is care."""
    draft.check("later", kind="pot", day=SUNDAY, care=True)


@_reading(living)
def care_on_a_closed_day(draft: Draft) -> None:
    """Other care may fall on a closed day."""
    draft.check("later", day=SUNDAY, care=True)


@_reading(living, impossible=(("closed day", "later", 1),))
def no_care_on_a_closed_day(draft: Draft) -> None:
    """Work that is not care may not, whatever its kind."""
    draft.check("later", day=SUNDAY)


@_reading(living, impossible=(("hours", "later", 1),))
def hours_a_hair_below_none(draft: Draft) -> None:
    """Hours below 0 are compared exactly."""
    draft.check("later", day="2026-06-08", hours=[{"skill": "crew", "hours": -1e-9}])


@_reading(living)
def one_skill_twice_in_hours(draft: Draft) -> None:
    """Hours of one skill in one piece of work are added up."""
    draft.of("later", "works", kind="graft")["hours"] = [{"skill": "graft", "hours": 0.40625}] * 2


@_reading(living, impossible=(("hours", "later", 1),))
def one_skill_twice_in_hands(draft: Draft) -> None:
    """A rule that lists a skill twice asks for both."""
    draft.stage("healing")["works"][0]["hands"] *= 2


@_reading(living, impossible=(("hours", "later", 1),))
def two_works_with_half_the_hours(draft: Draft) -> None:
    """Two pieces of work are not added up: none of them is enough by itself."""
    half = {"hours": [{"skill": "graft", "hours": 0.40625}]}
    draft.of("later", "works", kind="graft").update(half)
    draft.again("later", "works", {}, kind="graft")


@_reading(spring, impossible=(("graft day", "2", 1), ("work", "2", 1)))
def graft_day_of_a_plain_line(draft: Draft) -> None:
    """A plain line that wrongly has a graft day also lacks the work on it."""
    draft.part("2")["graft_day"] = "2026-04-27"


@_reading(spring, impossible=(("graft day", "1", 1),))
def no_work_of_a_side_without_a_start(draft: Draft) -> None:
    """Without a start no work is asked of the stages of the sides: half the hours of sowing pass."""
    draft.part("1")["graft_day"] = None
    draft.of("1", "works", kind="sow")["hours"] = []


# --- conflicts ---------------------------------------------------------------------------------------------


@_reading(living, conflicts=(("hardening", "2026-05-30", "2026-05-31", 1, 0.5),))
def claims_of_a_promised_line_without_a_plan(draft: Draft) -> None:
    """A promised line that is named with no plan keeps its claims."""
    draft.plan["lines"][2]["plan"] = None
    draft.part("begun")["stays"] = [each for each in draft.part("begun")["stays"] if each["stage"] != "cover"]
    draft.begun("begun")["entered"].append({"stage": "growing", "day": "2026-04-16"})
    draft.named("places", "hardening")["capacity"] = 0.5


@_reading(living, impossible=(("place", "later", 1),), conflicts=(("weld", "2026-06-01", "2026-06-01", 0.5, 0),))
def nowhere_and_nobody(draft: Draft) -> None:
    """A stay in no place of the nursery is left out of conflicts; a skill that nobody has is there for 0 hours."""
    draft.of("later", "stays", stage="growing")["place"] = "nowhere"
    draft.claim("2026-06-01", weld=0.5)


@_reading(spring, conflicts=(("graft", "2026-03-07", "2026-03-09", 6, 4),))
def a_closed_day_parts_no_days_of_hands(draft: Draft) -> None:
    """Saturday and Monday lack 2 hours each with a closed Sunday between: one conflict, told by its first day."""
    draft.claim("2026-03-07", graft=6)
    draft.claim("2026-03-08", graft=0.5)
    draft.claim("2026-03-09", graft=10)


@_reading(
    spring,
    conflicts=(("graft", "2026-03-02", "2026-03-02", 9, 8), ("graft", "2026-03-04", "2026-03-04", 9, 8)),
)
def an_open_day_parts_days_of_hands(draft: Draft) -> None:
    """An open day on which nothing is asked parts two conflicts."""
    draft.claim("2026-03-02", graft=9)
    draft.claim("2026-03-04", graft=9)


@_reading(
    spring,
    conflicts=(("healing", "2026-03-07", "2026-03-07", 9, 8), ("healing", "2026-03-09", "2026-03-09", 9, 8)),
)
def a_closed_day_parts_nights_of_a_place(draft: Draft) -> None:
    """Nights of a place are parted by any night that fits, also that of a closed day."""
    claim = {"owner": "others", "label": "Others", "place": "healing", "nights": 1, "load": 9}
    draft.season["taken"] = {"room": [claim | {"first": day} for day in ("2026-03-07", "2026-03-09")]}


def _team(draft: Draft, *people: tuple[str, float]) -> None:
    """People by their skills and their hours on every day."""
    draft.season["people"] = [
        {"key": f"{number}", "name": f"{number}", "skills": skills.split(), "hours": [hours] * 7}
        for number, (skills, hours) in enumerate(people)
    ]
    for line in draft.plan["lines"]:
        line["plan"] = None


DAY = ("2026-03-03", "2026-03-03")


@_reading(spring, conflicts=(("crew+graft", *DAY, 10, 8), ("wash", *DAY, 3, 1)))
def sets_that_smaller_sets_explain(draft: Draft) -> None:
    """Two skills of one person lack 2 hours and a third lacks 2: all three lack 4, which is not told again."""
    _team(draft, ("graft crew", 8), ("wash", 1))
    draft.claim(DAY[0], graft=5, crew=5, wash=3)


@_reading(spring, conflicts=(("crew+graft", *DAY, 10, 8), ("drive+wash", *DAY, 10, 8)))
def two_sets_that_explain_four_skills(draft: Draft) -> None:
    """A set may be explained by two sets of several skills each, not by single ones alone."""
    _team(draft, ("graft crew", 8), ("wash drive", 8))
    draft.claim(DAY[0], graft=5, crew=5, wash=5, drive=5)


@_reading(spring, conflicts=(("crew+graft+wash", *DAY, 18, 15),))
def a_set_of_three_skills(draft: Draft) -> None:
    """Three people with two skills each: every pair of skills is covered, all three together are not."""
    _team(draft, ("graft crew", 5), ("crew wash", 5), ("graft wash", 5))
    draft.claim(DAY[0], graft=6, crew=6, wash=6)


@_reading(spring, conflicts=(("crew+graft", *DAY, 10, 7), ("graft", *DAY, 4, 3)))
def a_set_that_lacks_more_than_its_own_subsets(draft: Draft) -> None:
    """Grafting lacks 1 hour of its own; with the crew's work 3 are lacking, which is more and told as well."""
    _team(draft, ("graft crew", 3), ("crew", 4))
    draft.claim(DAY[0], graft=4, crew=6)


@_reading(spring, conflicts=(("graft", *DAY, 4, 3),))
def spare_hours_of_others_explain_nothing(draft: Draft) -> None:
    """The crew has an hour to spare; grafting lacks 1 hour all the same, and both together lack none."""
    _team(draft, ("graft crew", 3), ("crew", 4))
    draft.claim(DAY[0], graft=4, crew=3)
