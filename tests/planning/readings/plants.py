"""Readings of what it says of lines, of where plants stand, of what has happened to them, and of work."""

from __future__ import annotations

from copy import deepcopy

from tests.planning.readings.drafts import SUNDAY, Draft, Said, living, reading, spring

# --- whose fault it is --------------------------------------------------------------------------------------


@reading(living, impossible=(("latitude", "begun", None), ("contiguous", "begun", 1)))
def faults_of_the_line(draft: Draft) -> None:
    """Faults under The line have no part, also where a part under way is judged by itself."""
    draft.course("begun")["pickup"] = "2026-05-05"


@reading(
    spring, impossible=(("latitude", "2", None), ("late", "2", 1), ("stage length", "2", 1), ("work", "2", 1))
)
def lines_are_named_by_key(draft: Draft) -> None:
    """Lines are named by key: here all three have one label. (Ready late, line 2 waits for less than 0 nights.)"""
    for line in draft.season["lines"]:
        line["label"] = "Order"
    draft.course("2")["pickup"] = "2026-05-09"


@reading(
    living,
    impossible=(("no part", "begun", None),),
    conflicts=(("healing", "2026-04-16", "2026-04-17", 4, 3),),
)
def two_parts_of_one_number(draft: Draft) -> None:
    """Two parts of one number that is under way are told."""
    draft.course("begun")["parts"] *= 2


# --- where plants stand -------------------------------------------------------------------------------------


@reading(living, impossible=(("stage length", "later", 1), ("contiguous", "later", 1)))
def a_stay_that_begins_another_day_leaves_last(draft: Draft) -> None:
    """A step of after is left with its last stay, on whatever day that stay begins: 6 nights, of 4 at most."""
    draft.again("later", "stays", {"first": "2026-05-31", "nights": 5}, stage="cover")


@reading(living)
def moved_within_a_stage(draft: Draft) -> None:
    """Living plants that were moved within a stage leave it with the last of their stays."""
    draft.of("begun", "stays", stage="healing")["nights"] = 1
    draft.again("begun", "stays", {"first": "2026-04-15", "nights": 3}, stage="healing")


@reading(spring, impossible=(("graft day", "1", 1), ("contiguous", "1", 1)))
def strays_of_raising_without_a_start(draft: Draft) -> None:
    """Without a start raising is not judged, and its strays are told all the same."""
    draft.part("1")["graft_day"] = None
    draft.of("1", "stays", stage="scion-raising")["first"] = "2026-04-07"


@reading(spring, impossible=(("graft day", "1", 1),))
def no_strays_of_after_without_a_start(draft: Draft) -> None:
    """Without a start no stray is told of the steps of after."""
    draft.part("1")["graft_day"] = None
    draft.again("1", "stays", {"first": "2026-05-01"}, stage="cover")


@reading(
    living,
    impossible=(("contiguous", "begun", 1),),
    conflicts=(("healing", "2026-04-17", "2026-04-17", 4, 3),),
)
def strays_of_a_step_that_is_entered(draft: Draft) -> None:
    """Of a step that is entered nothing is asked, but a stay of it that begins another day is a stray."""
    draft.begun("begun")["entered"] = []
    draft.again("begun", "stays", {"first": "2026-04-17", "nights": 1}, stage="healing")


@reading(living)
def no_strays_of_waiting_that_is_not_judged(draft: Draft) -> None:
    """With ready_on recorded waiting is not judged, nor are its strays told."""
    draft.begun("begun")["ready_on"] = "2026-04-15"
    waits = {"stage": "waiting", "stage_kind": "waiting", "place": "staging", "first": "2026-05-20", "nights": 2}
    draft.again("begun", "stays", waits, stage="growing")


@reading(living, impossible=(("container", "later", 1),))
def a_step_without_a_container(draft: Draft) -> None:
    """A step without a container is no stay's container; how many there are is not asked, nor the load."""
    draft.asked("later")["container"] = None
    draft.of("later", "stays", stage="growing").update(containers=1, load=3)


@reading(spring)
def topped_with_one_leader(draft: Draft) -> None:
    """A line with topped and one leader is not topped: no nights are added."""
    draft.asked("1").update(topped=True, leaders=1)


@reading(spring, impossible=(("containers", "3", 1), ("containers", "3", 2)))
def room_divided_over_parts(draft: Draft) -> None:
    """The containers of room are counted in each part by itself."""
    draft.of("3", "stays").update(containers=2, load=2)
    draft.course("3")["parts"].append(deepcopy(draft.part("3")) | {"number": 2})


# --- what has happened --------------------------------------------------------------------------------------


@reading(living)
def waiting_is_entered(draft: Draft) -> None:
    """If waiting is in entered, all of after is behind: no stay of it is judged."""
    draft.begun("begun")["entered"].append({"stage": "waiting", "day": "2026-04-16"})
    draft.of("begun", "stays", stage="growing")["place"] = "nowhere"


@reading(living, impossible=(("place", "begun", 1),))
def ready_is_recorded(draft: Draft) -> None:
    """ready_on puts all of after behind, and not waiting: the stay of waiting is judged."""
    draft.begun("begun")["ready_on"] = "2026-04-16"
    waits = {"stage": "waiting", "stage_kind": "waiting", "place": "nowhere", "first": "2026-05-04", "nights": 1}
    draft.again("begun", "stays", waits, stage="growing")
    draft.of("begun", "stays", stage="growing").update(containers=1)


@reading(living)
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


@reading(living, impossible=(("place closed", "later", 1),), conflicts=SHUT)
def mercy_for_living_plants(draft: Draft) -> None:
    """Where no place of its kind is open, a stay of plants under way is a conflict, and of others impossible."""
    draft.named("places", "hardening")["open"] = [{"first": "2026-01-01", "last": "2026-04-17"}]


@reading(living, impossible=(("place closed", "begun", 1), ("place closed", "later", 1)), conflicts=SHUT)
def no_mercy_beside_an_open_place(draft: Draft) -> None:
    """Another place of that kind is open on all nights, if full: then living plants have no excuse."""
    shut = draft.named("places", "hardening")
    draft.season["places"].append(deepcopy(shut) | {"key": "other", "name": "other", "capacity": 0.1})
    shut["open"] = [{"first": "2026-01-01", "last": "2026-04-17"}]


@reading(living)
def handing_over_after_a_closed_day(draft: Draft) -> None:
    """Under way, a pickup that is closed since gives way to the next open day, and so does collection."""
    draft.begun("later")
    draft.asked("later")["collection"] = 2
    draft.season["calendar"]["closed"] = ["2026-06-15"]
    draft.of("later", "works", kind="hand_over")["day"] = "2026-06-16"
    waits = {"stage": "waiting", "stage_kind": "waiting", "place": "staging", "first": "2026-06-15", "nights": 2}
    draft.again("later", "stays", waits, stage="growing")
    draft.of("later", "stays", stage="waiting").update(containers=5, load=5)


@reading(living, impossible=(("stage length", "later", 1),))
def longest_up_to_an_open_day(draft: Draft) -> None:
    """Under way the longest counts up to the next open day: both covers end on a Monday, one night too late."""
    draft.stage("cover")["nights"] = {"shortest": 0, "usual": 1, "longest": 1}


# --- work ---------------------------------------------------------------------------------------------------


@reading(living, impossible=(("closed day", "later", 1),))
def potting_is_never_care(draft: Draft) -> None:
    """Potting may not fall on a closed day even if it is care."""
    draft.check("later", kind="pot", day=SUNDAY, care=True)


@reading(living)
def care_on_a_closed_day(draft: Draft) -> None:
    """Other care may fall on a closed day."""
    draft.check("later", day=SUNDAY, care=True)


@reading(living, impossible=(("closed day", "later", 1),))
def no_care_on_a_closed_day(draft: Draft) -> None:
    """Work that is not care may not, whatever its kind."""
    draft.check("later", day=SUNDAY)


@reading(living, impossible=(("hours", "later", 1),))
def hours_a_hair_below_none(draft: Draft) -> None:
    """Hours below 0 are compared exactly."""
    draft.check("later", day="2026-06-08", hours=[{"skill": "crew", "hours": -1e-9}])


@reading(living)
def one_skill_twice_in_hours(draft: Draft) -> None:
    """Hours of one skill in one piece of work are added up."""
    draft.of("later", "works", kind="graft")["hours"] = [{"skill": "graft", "hours": 0.40625}] * 2


@reading(living, impossible=(("hours", "later", 1),))
def one_skill_twice_in_hands(draft: Draft) -> None:
    """A rule that lists a skill twice asks for both."""
    draft.stage("healing")["works"][0]["hands"] *= 2


@reading(living, impossible=(("work", "later", 1),))
def work_in_another_part_of_the_day(draft: Draft) -> None:
    """A rule of the evening is not kept by work of any time."""
    draft.stage("healing")["works"][0]["part"] = "evening"


@reading(living, impossible=(("hours", "later", 1),))
def two_works_with_half_the_hours(draft: Draft) -> None:
    """Two pieces of work are not added up: none of them is enough by itself."""
    half = {"hours": [{"skill": "graft", "hours": 0.40625}]}
    draft.of("later", "works", kind="graft").update(half)
    draft.again("later", "works", {}, kind="graft")


@reading(spring, impossible=(("graft day", "2", 1), ("work", "2", 1)))
def graft_day_of_a_plain_line(draft: Draft) -> None:
    """A plain line that wrongly has a graft day also lacks the work on it."""
    draft.part("2")["graft_day"] = "2026-04-27"


@reading(spring, impossible=(("graft day", "1", 1),))
def no_work_of_a_side_without_a_start(draft: Draft) -> None:
    """Without a start no work is asked of the stages of the sides: half the hours of sowing pass."""
    draft.part("1")["graft_day"] = None
    draft.of("1", "works", kind="sow")["hours"] = []
