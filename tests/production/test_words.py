"""Hands and changes of conflicts in words."""

from datetime import date, timedelta

import pytest

from production.planning.terms import Conflict
from production.words import conflict_words, eased, hands_words

DAY = date(2027, 4, 5)


@pytest.mark.parametrize(
    ("asks", "words"),
    [
        ([("Grafting", "day")], "Hands for grafting"),
        ([("Grafting", "day"), ("Sowing", "day")], "Hands for grafting or sowing"),
        ([("Grafting", "day"), ("Potting and care", "day")], "Hands for grafting, or potting and care"),
        (
            [("Grafting", "day"), ("Potting and care", "day"), ("Sowing", "day")],
            "Hands for grafting, potting and care, or sowing",
        ),
        ([("Cutting", "evening")], "Hands for cutting in the evening"),
        ([("Cutting", "evening"), ("Sowing", "day")], "Hands for cutting (evening) or sowing"),
        ([("CO2 dosing", "day")], "Hands for CO2 dosing"),
    ],
)
def test_hands_are_named_as_a_grower_speaks(asks, words):
    assert hands_words(asks) == words


def chamber(nights: int, peak: float, first: date = DAY) -> Conflict:
    return Conflict("place", "4", "Healing chamber", "positions", first, first + timedelta(nights - 1), peak, 6)


def grafting(hours: float) -> Conflict:
    return Conflict("hands", "Grafting", "Grafting", "hours", DAY, DAY, hours, 0)


def test_a_conflict_of_hands_says_for_what():
    assert conflict_words(grafting(3.5)) == "Hands for grafting, 5 April: 3.5 hours wanted, 0 there."
    assert conflict_words(grafting(1)) == "Hands for grafting, 5 April: 1 hour wanted, 0 there."


@pytest.mark.parametrize(
    ("before", "after", "helps", "verdict", "each"),
    [
        ([chamber(6, 10)], [], True, "No conflict is left.", ["Healing chamber: no conflict any more."]),
        (
            [chamber(6, 10), grafting(2)],
            [chamber(3, 7), grafting(2)],
            True,
            "It eases the conflicts.",
            [
                "Healing chamber: 3 nights instead of 6, at most 1 too many instead of 4.",
                "Hands for grafting: as now.",
            ],
        ),
        # One run of nights that falls into two is less, not more.
        (
            [chamber(6, 10)],
            [chamber(2, 10), chamber(1, 7, DAY + timedelta(4))],
            True,
            "It eases the conflicts.",
            ["Healing chamber: 3 nights instead of 6, at most 4 too many instead of 4."],
        ),
        ([chamber(6, 10)], [chamber(6, 10)], False, "It eases no conflict.", ["Healing chamber: as now."]),
        (
            [chamber(6, 10)],
            [grafting(3.5)],
            False,
            "It eases one conflict and adds to another.",
            [
                "Healing chamber: no conflict any more.",
                "New: Hands for grafting, 5 April: 3.5 hours wanted, 0 there.",
            ],
        ),
        ([], [], False, "There is no conflict, now or then.", []),
    ],
)
def test_a_change_says_what_becomes_less(before, after, helps, verdict, each):
    made = eased(before, after)
    assert (made.helps, made.verdict, list(made.each)) == (helps, verdict, each)


@pytest.mark.parametrize(
    ("peak", "wanted"), [(1, "1 tray place wanted"), (1.5, "1.5 tray places wanted"), (4, "4 tray places")]
)
def test_one_tray_place_is_no_tray_places(peak, wanted):
    first = date(2027, 3, 18)
    conflict = Conflict("place", "1", "Healing chamber", "positions", first, first, peak, 0.0)
    assert wanted in conflict_words(conflict)
