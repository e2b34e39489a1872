"""What counts say about the plants to come, against scipy and a seeded simulation."""

from datetime import date, timedelta
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from production.planning.forecast import last_sowing_up_by, last_useful_sowing, learned, outlook
from production.planning.sizing import combine, size_grafted, size_plain
from production.planning.terms import (
    Calendar,
    Clock,
    Material,
    Outlook,
    PartFacts,
    Rate,
    Sizing,
    SowingFacts,
    Warmth,
)

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.88, 80), usable=Rate(0.85, 80))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)
SIZING = size_grafted(100, ROOTSTOCK, SCION, TAKE, KEPT, 0.95)


def of(facts: PartFacts, wanted: int = 100, sizing: Sizing = SIZING) -> Outlook:
    return outlook(wanted, facts, sizing, SCION, KEPT, ROOTSTOCK, TAKE)


def betabinom(trials: int, rate: Rate):
    return stats.betabinom(trials, rate.mean * rate.weight, (1 - rate.mean) * rate.weight)


def test_before_anything_is_counted_the_outlook_is_the_plan():
    now = of(PartFacts())
    assert now.chance == pytest.approx(SIZING.chance)
    assert now.expected == pytest.approx(SIZING.expected)
    assert now.low < now.expected < now.high


@pytest.mark.parametrize(
    ("facts", "there", "after"),
    [
        (PartFacts(grafted=120), 120, combine(TAKE, KEPT)),
        (PartFacts(grafted=120, taken=106), 106, KEPT),
        (PartFacts(grafted=120, taken=106, lost_after_take=3), 103, KEPT),
    ],
)
def test_once_grafted_the_outlook_is_a_beta_binomial(facts: PartFacts, there: int, after: Rate):
    now, reference = of(facts), betabinom(there, after)
    assert now.chance == pytest.approx(reference.sf(99))
    assert now.expected == pytest.approx(reference.mean())
    assert (now.low, now.high) == (reference.ppf(0.1), reference.ppf(0.9))


def test_ready_plants_are_a_number_and_no_chance():
    assert of(PartFacts(ready=103)) == Outlook(103.0, 103, 103, 1.0)
    assert of(PartFacts(ready=99)) == Outlook(99.0, 99, 99, 0.0)
    assert of(PartFacts(ready=0)) == Outlook(0.0, 0, 0, 0.0)


def test_sixty_of_a_hundred_emerged_brings_everything_down():
    sizing = size_grafted(60, ROOTSTOCK, SCION, TAKE, KEPT, 0.95)
    facts = PartFacts(sowings=(SowingFacts("rootstock", seeds=100, emerged=60),))
    now = of(facts, 60, sizing)
    # By hand: of 60 rootstocks 0.85 are usable, of those grafts 0.9 take and 0.97 are kept: 44.5.
    assert now.expected == pytest.approx(60 * 0.85 * 0.9 * 0.97, rel=0.01)
    assert now.chance < 0.01


def test_the_scarcer_side_decides():
    both = (SowingFacts("rootstock", usable=90), SowingFacts("scion", usable=130))
    one = (SowingFacts("rootstock", usable=90), SowingFacts("scion", usable=90))
    assert of(PartFacts(sowings=both)) == of(PartFacts(sowings=one))
    assert of(PartFacts(sowings=both)).expected == pytest.approx(betabinom(90, combine(TAKE, KEPT)).mean())


def test_no_more_is_grafted_than_was_planned():
    plenty = (SowingFacts("rootstock", usable=500), SowingFacts("scion", usable=500))
    assert of(PartFacts(sowings=plenty)).high <= SIZING.grafts


def test_a_side_in_all_stages_of_counting_as_in_a_simulation():
    # A seeded simulation of 200,000 seasons: 40 usable, 30 emerged, 60 sown, with shares sharpened by the counts.
    facts = PartFacts(
        sowings=(
            SowingFacts("rootstock", seeds=60, emerged=50, usable=40),
            SowingFacts("rootstock", seeds=40, emerged=30),
            SowingFacts("rootstock", seeds=60),
            SowingFacts("scion", usable=1000),
        )
    )
    rng = np.random.default_rng(20260302)
    seasons = 200_000
    emergence, use = (
        (0.88 * 80 + 50 + 30, 0.12 * 80 + 10 + 10),
        (0.85 * 80 + 40, 0.15 * 80 + 10),
    )
    emerged = 30 + 0 * rng.integers(1, size=seasons)
    first = rng.binomial(emerged, rng.beta(*use, seasons))
    second = rng.binomial(60, rng.beta(*emergence, seasons) * rng.beta(*use, seasons))
    grafts = np.minimum(40 + first + second, SIZING.grafts)
    took = rng.binomial(grafts, rng.beta(90, 10, seasons))
    ready = rng.binomial(took, rng.beta(97, 3, seasons))
    now = of(facts)
    assert now.expected == pytest.approx(ready.mean(), rel=0.005)
    assert now.chance == pytest.approx(np.mean(ready >= 100), abs=0.006)
    assert abs(now.low - np.percentile(ready, 10)) <= 1
    assert abs(now.high - np.percentile(ready, 90)) <= 1


def test_seed_not_yet_counted_out_is_taken_as_planned():
    planned = of(PartFacts())
    sown_without_number = of(PartFacts(sowings=(SowingFacts("rootstock", sown=date(2026, 3, 2)),)))
    assert sown_without_number == planned


def test_a_plain_line_has_one_side_only():
    sizing = size_plain(50, SCION, KEPT, 0.95)
    before = outlook(50, PartFacts(), sizing, SCION, KEPT)
    assert before.chance == pytest.approx(sizing.chance, abs=0.002)
    facts = PartFacts(sowings=(SowingFacts("plain", seeds=70, emerged=60, usable=55),))
    assert outlook(50, facts, sizing, SCION, KEPT).chance == pytest.approx(betabinom(55, KEPT).sf(49))


@given(st.integers(0, 200), st.integers(0, 200))
def test_more_that_took_never_makes_the_outlook_worse(taken: int, more: int):
    less, better = of(PartFacts(taken=taken)), of(PartFacts(taken=taken + more))
    assert less.chance <= better.chance + 1e-12
    assert less.low <= better.low
    assert less.high <= better.high


def test_a_count_sharpens_a_share():
    # By hand: 0.9 at the weight of 60 is 54 of 60; 60 of 100 more make 114 of 160.
    assert learned(Rate(0.9, 60), 60, 100) == Rate(114 / 160, 160)
    assert learned(Rate(0.9, inf), 60, 100) == Rate(0.9, inf)
    assert learned(Rate(0.9, 60), 0, 0) == Rate(0.9, 60)
    with pytest.raises(ValueError, match="cannot come"):
        learned(Rate(0.9), 101, 100)


def test_sowing_again_helps_until_the_stem_would_come_too_late():
    # Emergence at 20 °C on day 8, growth of 12 a night, fit from 200: day 25 after sowing (by hand).
    always = Calendar(frozenset(range(7)))
    graft_day = date(2026, 4, 20)
    last = last_useful_sowing(CLOCK, graft_day, Warmth(20.0), Warmth(20.0), always)
    assert last == graft_day - timedelta(days=25)
    assert last.weekday() == 3  # a Thursday
    without_thursdays = Calendar(frozenset({0, 1, 2, 4, 5, 6}))
    assert last_useful_sowing(CLOCK, graft_day, Warmth(20.0), Warmth(20.0), without_thursdays) == (
        last - timedelta(days=1)
    )


def test_no_sowing_helps_where_nothing_grows():
    assert (
        last_useful_sowing(CLOCK, date(2026, 4, 20), Warmth(20.0), Warmth(5.0), Calendar(frozenset({0}))) is None
    )


def test_seedlings_that_need_only_be_up_may_be_sown_until_they_would_not_be():
    # Emergence at 20 °C after 102.4 / 12.38 = 8.27 days, on day 8: by 20 April from Sunday 12 April (by hand).
    up = date(2026, 4, 20)
    assert last_sowing_up_by(CLOCK, up, Warmth(20.0), Calendar(frozenset(range(7)))) == date(2026, 4, 12)
    assert last_sowing_up_by(CLOCK, up, Warmth(20.0), Calendar(frozenset(range(6)))) == date(2026, 4, 11)
    assert last_sowing_up_by(CLOCK, up, Warmth(5.0), Calendar(frozenset(range(7)))) is None
