"""The referee reads FORMAT.md as it is meant: plans that tell readings apart, judged by hand from the page."""

from collections.abc import Callable

import pytest

from tests.planning import readings, spoilt

READINGS = readings.readings()


@pytest.mark.parametrize("name", READINGS)
def test_the_referee_says_what_the_page_says(name: str) -> None:
    each = READINGS[name]
    said = spoilt.judged(each.season, each.plan).said
    assert {tuple(fault) for fault in said["impossible"]} == set(each.impossible)
    assert {tuple(conflict[1:]) for conflict in said["in conflict"]} == set(each.conflicts)


@pytest.mark.parametrize("draft", [readings.spring, readings.living, readings.cold])
def test_the_plans_that_are_changed_are_good(draft: Callable[[], readings.Draft]) -> None:
    good = draft()
    assert spoilt.judged(good.season, good.plan).said == {"impossible": [], "in conflict": []}


def test_each_plan_says_which_sentence_it_tries() -> None:
    assert all(len(each.plan["note"]) > 20 for each in READINGS.values())
