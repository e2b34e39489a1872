"""Readings of what FORMAT.md says of the two sides: seed, clocks, holding, sowings in succession."""

from __future__ import annotations

from copy import deepcopy

from tests.planning.readings.drafts import SUNDAY, Draft, Json, cold, living, reading, spring

# --- sowing and clocks --------------------------------------------------------------------------------------


@reading(living, impossible=(("material", "later", 1),))
def seeds_of_another_material(draft: Draft) -> None:
    """A sowing is one of a side by its subject, whatever its material: there are seeds enough, of a wrong kind."""
    draft.of("later", "sowings", subject="rootstock")["material"] = "x"


@reading(living, impossible=(("material", "later", 1), ("temperature", "later", 1)))
def clock_of_another_material(draft: Draft) -> None:
    """The clock is that of the side, also where the sowing names another material."""
    for sowing in draft.part("later")["sowings"]:
        sowing["material"] = "x"
    draft.named("places", "germination")["warmth"] = {"usual": 33}


@reading(living, impossible=(("temperature", "later", 1),))
def two_degrees_above_the_base(draft: Draft) -> None:
    """At exactly emergence_base + 2 the clock says nothing, and then emergence is not asked."""
    for material in draft.season["materials"]:
        material["clock"]["emergence_base"] = 23


@reading(living)
def a_hair_above_two_degrees(draft: Draft) -> None:
    """A rule that writes no ease is compared exactly: 1e-7 above emergence_base + 2 is above."""
    for material in draft.season["materials"]:
        material["clock"] |= {"emergence_base": 23, "emergence_sum": 12}
    draft.named("places", "germination")["warmth"] = {"usual": 25.0000001}


@reading(living)
def exactly_at_the_ceiling(draft: Draft) -> None:
    """The ceiling itself is allowed."""
    for material in draft.season["materials"]:
        material["clock"]["emergence_ceiling"] = 25


@reading(living)
def two_spells_of_one_night(draft: Draft) -> None:
    """The first spell that holds a night counts, not the last, nor the usual."""
    year = {"first": "2026-01-01", "last": "2026-12-31"}
    spells = [{"during": year, "degrees": 25}, {"during": year, "degrees": 5}]
    draft.named("places", "germination")["warmth"] = {"usual": 40, "spells": spells}


@reading(living)
def two_sowings_of_one_day(draft: Draft) -> None:
    """Sowings of one day germinate each by itself: 14 seeds in 1 tray, and 73 of the second in 2 of its own."""
    draft.sown_again("later", "rootstock", seeds=73, trays=2)
    draft.of("later", "sowings", subject="rootstock").update(seeds=14, trays=1)


@reading(living, impossible=(("containers", "later", 1),))
def two_sowings_share_no_tray(draft: Draft) -> None:
    """14 seeds and 73 are 87, which would go into 2 trays; but they are two sowings, of 1 tray and of 2."""
    draft.sown_again("later", "rootstock", seeds=73, trays=2)
    draft.of("later", "sowings", subject="rootstock").update(seeds=14, trays=1)
    for stay in draft.part("later")["stays"]:
        if stay["subject"] == "rootstock":
            stay.update(containers=1, load=stay["load"] / stay["containers"])


@reading(living, impossible=(("sowing", "later", 1),))
def two_sowings_of_one_number(draft: Draft) -> None:
    """A number that is absent is 1: two sowings of a side without numbers have one."""
    draft.sown_again("later", "rootstock", seeds=73, trays=2)
    for sowing in draft.part("later")["sowings"]:
        sowing.pop("number", None)
    for each in (*draft.part("later")["stays"], *draft.part("later")["works"]):
        each.pop("sowing", None)


@reading(living, impossible=(("sowing", "later", 1), ("work", "later", 1)))
def work_of_another_sowing(draft: Draft) -> None:
    """Work is of the sowing that it names: sowing the scion a second time is not sowing it the first time."""
    draft.of("later", "works", kind="sow", subject="scion")["sowing"] = 2


@reading(living)
def sowings_after_the_graft(draft: Draft) -> None:
    """After the graft a number of a sowing has no meaning: of a stay, of work, and of what is done."""
    draft.begun("begun").setdefault("done", []).append(
        {"kind": "pot", "subject": "union", "stage": "growing", "sowing": 7}
    )
    draft.check("begun", kind="pot", day=SUNDAY, sowing=5)
    draft.of("later", "stays", stage="growing")["sowing"] = 3


@reading(living)
def chance_within_the_ease(draft: Draft) -> None:
    """A chance that is less than 1e-6 below the level is enough."""
    draft.part("later")["sizing"]["chance"] = 0.9499995


# --- cold holding -------------------------------------------------------------------------------------------

# The scion emerges on 6 April and is grafted on the 21st, after 15 nights of 13 °C·d; it is fit from 170 to 260.


def _hold_scion(draft: Draft, nights: int, *, checked: bool = True) -> None:
    """The scion is raised for fewer nights, and held cold for those."""
    first = f"2026-04-{21 - nights}"
    stay = draft.of("1", "stays", stage="scion-raising")
    stay["nights"] -= nights
    held = {"stage": "scion-cold", "stage_kind": "cold_hold", "place": "cold", "first": first, "nights": nights}
    draft.part("1")["stays"].append(deepcopy(stay) | held)
    if checked:
        hours = [{"skill": "crew", "hours": 0.096}]
        draft.check("1", subject="scion", stage="scion-cold", day=first, plants=96, hours=hours, care=True)


@reading(cold)
def held_for_a_night(draft: Draft) -> None:
    """Raising ends on the day on which its stay leaves, and holding fills the nights up to the graft."""
    _hold_scion(draft, 1)


@reading(cold, impossible=(("graftable", "1", 1),))
def the_clock_stands_still_in_holding(draft: Draft) -> None:
    """Nights in holding add nothing to the stem, however warm: 13 nights of raising are 169 °C·d."""
    _hold_scion(draft, 2)


@reading(cold)
def held_once_the_stem_is_at_its_last(draft: Draft) -> None:
    """Raised for 20 nights, all that the stem allows, and held for 3: grafted 23 nights after it was up."""
    _hold_scion(draft, 3)
    draft.of("1", "sowings", subject="scion").update(
        day="2026-03-23", emerges="2026-03-29", graftable_to="2026-04-21"
    )
    draft.of("1", "works", kind="sow", subject="scion")["day"] = "2026-03-23"
    draft.of("1", "stays", stage="scion-germinating")["first"] = "2026-03-23"
    draft.of("1", "stays", stage="scion-raising").update(first="2026-03-29", nights=20)


@reading(cold, impossible=(("contiguous", "1", 1), ("work", "1", 1)))
def raising_that_ends_before_the_graft(draft: Draft) -> None:
    """Raising that leaves a night early ends then: it is the holding that lacks its stay, and its work."""
    draft.of("1", "stays", stage="scion-raising")["nights"] = 14


@reading(cold, impossible=(("contiguous", "1", 1),))
def holding_before_raising_ends(draft: Draft) -> None:
    """Holding that begins while raising still lasts is a stray; holding for no night asks for no stay."""
    _hold_scion(draft, 1)
    draft.of("1", "stays", stage="scion-raising")["nights"] = 15


@reading(cold, impossible=(("stage length", "1", 1),))
def held_too_long(draft: Draft) -> None:
    """Holding has bounds of its own: here 2 nights at the longest, and 3 are spent."""
    held_once_the_stem_is_at_its_last(draft)
    draft.season["recipes"][0]["scion"][2]["nights"]["longest"] = 2


@reading(cold, impossible=(("work", "1", 1),))
def work_of_holding(draft: Draft) -> None:
    """What the stage asks for is asked of a sowing that is held, on the day on which it goes into the cold."""
    _hold_scion(draft, 1, checked=False)


# --- sowing in succession -----------------------------------------------------------------------------------


def _sow_scion_twice(draft: Draft, days: tuple[str, str], up: tuple[str, str], apart: int = 1) -> None:
    """48 seeds on each of these days, up on these days of April."""
    draft.season["recipes"][0].update(scion_sowings=2, sown_apart=apart)
    draft.sown_again("1", "scion")
    for number, day, emerges in zip((1, 2), days, up, strict=True):
        sowing = next(
            e for e in draft.part("1")["sowings"] if e["subject"] == "scion" and e.get("number", 1) == number
        )
        sowing.update(day=day, emerges=emerges, seeds=48, trays=1)
        for each in (*draft.part("1")["stays"], *draft.part("1")["works"]):
            if each["subject"] == "scion" and each.get("sowing", 1) == number:
                _begin_with(each, day, emerges)


def _begin_with(each: Json, day: str, emerges: str) -> None:
    """A stay or a piece of work of a sowing, moved to its days; grafted on 21 April."""
    if each.get("kind"):
        each.update(day=day if each["kind"] == "sow" else emerges, plants=48)
    elif each["stage"] == "scion-germinating":
        each.update(first=day, nights=6, containers=1, load=1)
    else:
        each.update(first=emerges, nights=21 - int(emerges[-2:]), containers=1, load=1)


@reading(spring)
def sown_on_days_that_follow(draft: Draft) -> None:
    """Two sowings with half of the seeds each, a day apart, with stays and work of their own."""
    _sow_scion_twice(draft, ("2026-03-31", "2026-04-01"), ("2026-04-06", "2026-04-07"))


@reading(spring)
def sown_again_after_a_closed_day(draft: Draft) -> None:
    """A day after a Saturday is a Sunday, which is closed: then the next open day is due."""
    _sow_scion_twice(draft, ("2026-03-28", "2026-03-30"), ("2026-04-03", "2026-04-05"))


@reading(spring, impossible=(("succession", "1", 1),))
def sown_later_than_due(draft: Draft) -> None:
    """Two days apart where the protocol says one is not in succession, though both are fit to graft."""
    _sow_scion_twice(draft, ("2026-03-30", "2026-04-01"), ("2026-04-05", "2026-04-07"))


@reading(spring, impossible=(("succession", "1", 1),))
def sown_once_where_twice_is_asked(draft: Draft) -> None:
    """All seeds on one day, where the protocol asks for two sowings."""
    draft.season["recipes"][0].update(scion_sowings=2, sown_apart=1)


@reading(spring)
def sown_more_often_than_asked(draft: Draft) -> None:
    """More sowings than asked for break nothing; of a side that is asked once no days apart are due."""
    _sow_scion_twice(draft, ("2026-03-28", "2026-04-01"), ("2026-04-03", "2026-04-07"))
    draft.season["recipes"][0].update(scion_sowings=1)


@reading(spring)
def numbers_are_names(draft: Draft) -> None:
    """A number is a name: the sowing of number 2 may come before that of number 1."""
    _sow_scion_twice(draft, ("2026-04-01", "2026-03-31"), ("2026-04-07", "2026-04-06"))


@reading(living)
def out_of_succession_under_way(draft: Draft) -> None:
    """Of a part that is under way no succession is asked: each sowing is late or early by itself."""
    draft.season["recipes"][0].update(scion_sowings=2, sown_apart=1)
    draft.begun("later")


@reading(living, impossible=(("container", "later", 1),))
def another_sowing_is_sown(draft: Draft) -> None:
    """What is recorded of the second sowing does not make the first one sown."""
    draft.begun("later")["sowings"] = [{"subject": "scion", "number": 2, "sown": "2026-04-16"}]
    draft.of("later", "sowings", subject="scion")["container"] = "x"


@reading(living, impossible=(("place", "later", 1),))
def another_sowing_is_entered(draft: Draft) -> None:
    """On a side a stage is behind the sowing that entered it, and no other."""
    draft.begun("later")["entered"] = [{"stage": "scion-raising", "day": "2026-04-16", "sowing": 2}]
    draft.of("later", "stays", stage="scion-raising")["place"] = "nowhere"
