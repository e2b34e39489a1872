"""Readings of what it says of conflicts."""

from __future__ import annotations

from tests.planning.readings.drafts import Draft, living, reading, spring

# --- conflicts ----------------------------------------------------------------------------------------------


@reading(living, conflicts=(("hardening", "2026-05-30", "2026-05-31", 1, 0.5),))
def claims_of_a_promised_line_without_a_plan(draft: Draft) -> None:
    """A promised line that is named with no plan keeps its claims."""
    draft.plan["lines"][2]["plan"] = None
    draft.part("begun")["stays"] = [each for each in draft.part("begun")["stays"] if each["stage"] != "cover"]
    draft.begun("begun")["entered"].append({"stage": "growing", "day": "2026-04-16"})
    draft.named("places", "hardening")["capacity"] = 0.5


@reading(living, impossible=(("place", "later", 1),), conflicts=(("weld", "2026-06-01", "2026-06-01", 0.5, 0),))
def nowhere_and_nobody(draft: Draft) -> None:
    """A stay in no place of the nursery is left out of conflicts; a skill that nobody has is there for 0 hours."""
    draft.of("later", "stays", stage="growing")["place"] = "nowhere"
    draft.claim("2026-06-01", weld=0.5)


@reading(spring, conflicts=(("graft", "2026-03-07", "2026-03-09", 6, 4),))
def a_closed_day_parts_no_days_of_hands(draft: Draft) -> None:
    """Saturday and Monday lack 2 hours each with a closed Sunday between: one conflict, told by its first day."""
    draft.claim("2026-03-07", graft=6)
    draft.claim("2026-03-08", graft=0.5)
    draft.claim("2026-03-09", graft=10)


@reading(
    spring,
    conflicts=(("graft", "2026-03-02", "2026-03-02", 9, 8), ("graft", "2026-03-04", "2026-03-04", 9, 8)),
)
def an_open_day_parts_days_of_hands(draft: Draft) -> None:
    """An open day on which nothing is asked parts two conflicts."""
    draft.claim("2026-03-02", graft=9)
    draft.claim("2026-03-04", graft=9)


@reading(
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


@reading(spring, conflicts=(("crew+graft", *DAY, 10, 8), ("wash", *DAY, 3, 1)))
def sets_that_smaller_sets_explain(draft: Draft) -> None:
    """Two skills of one person lack 2 hours and a third lacks 2: all three lack 4, which is not told again."""
    _team(draft, ("graft crew", 8), ("wash", 1))
    draft.claim(DAY[0], graft=5, crew=5, wash=3)


@reading(spring, conflicts=(("crew+graft", *DAY, 10, 8), ("drive+wash", *DAY, 10, 8)))
def two_sets_that_explain_four_skills(draft: Draft) -> None:
    """A set may be explained by two sets of several skills each, not by single ones alone."""
    _team(draft, ("graft crew", 8), ("wash drive", 8))
    draft.claim(DAY[0], graft=5, crew=5, wash=5, drive=5)


@reading(spring, conflicts=(("crew+graft+wash", *DAY, 18, 15),))
def a_set_of_three_skills(draft: Draft) -> None:
    """Three people with two skills each: every pair of skills is covered, all three together are not."""
    _team(draft, ("graft crew", 5), ("crew wash", 5), ("graft wash", 5))
    draft.claim(DAY[0], graft=6, crew=6, wash=6)


@reading(spring, conflicts=(("crew+graft", *DAY, 10, 7), ("graft", *DAY, 4, 3)))
def a_set_that_lacks_more_than_its_own_subsets(draft: Draft) -> None:
    """Grafting lacks 1 hour of its own; with the crew's work 3 are lacking, which is more and told as well."""
    _team(draft, ("graft crew", 3), ("crew", 4))
    draft.claim(DAY[0], graft=4, crew=6)


@reading(spring, conflicts=(("graft", *DAY, 4, 3),))
def spare_hours_of_others_explain_nothing(draft: Draft) -> None:
    """The crew has an hour to spare; grafting lacks 1 hour all the same, and both together lack none."""
    _team(draft, ("graft crew", 3), ("crew", 4))
    draft.claim(DAY[0], graft=4, crew=3)


def _said(draft: Draft, number: int, **said: float) -> None:
    """How many hours of a person lie in `mornings` or `evenings`, on every weekday."""
    draft.season["people"][number] |= {part: [hours] * 7 for part, hours in said.items()}


@reading(spring, conflicts=(("graft@evening", *DAY, 3, 2),))
def an_evening_that_is_full(draft: Draft) -> None:
    """Two of eight hours lie in the evening, and 3 are asked for then: of the day, all in all, 6 are left."""
    _team(draft, ("graft", 8))
    _said(draft, 0, evenings=2)
    draft.claim(DAY[0], "evening", graft=3)
    draft.claim(DAY[0], "morning", graft=3)


@reading(spring, conflicts=(("graft", *DAY, 9, 8),))
def a_day_that_is_full_with_its_evening(draft: Draft) -> None:
    """Work of any time and work of the evening fill the day together: `graft` means both."""
    _team(draft, ("graft", 8))
    _said(draft, 0, evenings=2)
    draft.claim(DAY[0], "evening", graft=2)
    draft.claim(DAY[0], graft=7)


@reading(spring, conflicts=(("graft@morning", *DAY, 7, 6),))
def a_morning_of_which_nothing_is_said(draft: Draft) -> None:
    """Hours not said to lie in the evening do for the morning, of which nothing is said; its own do not."""
    _team(draft, ("graft", 8))
    _said(draft, 0, evenings=2)
    draft.claim(DAY[0], "morning", graft=7)


@reading(spring, conflicts=(("graft", *DAY, 9, 8),))
def a_part_that_counts_for_nobody(draft: Draft) -> None:
    """Nobody who grafts has hours by part of the day: work of the evening counts as work of the day."""
    _team(draft, ("graft", 8), ("wash", 8))
    _said(draft, 1, mornings=0, evenings=0)
    draft.claim(DAY[0], "evening", graft=9)


@reading(spring, conflicts=(("crew+graft@evening", *DAY, 2.5, 2),))
def skills_each_in_a_part_of_the_day(draft: Draft) -> None:
    """Grafting in the evening and the crew's work at any time lack hours together; no set of skills alone does."""
    _team(draft, ("graft crew", 2), ("graft", 8))
    _said(draft, 0, evenings=2)
    _said(draft, 1, evenings=0)
    draft.claim(DAY[0], "evening", graft=1)
    draft.claim(DAY[0], crew=1.5)
