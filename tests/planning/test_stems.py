"""Pairs of stems against a maximum matching of scipy, normal chances worked out, and what successions buy."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import sparse, stats
from scipy.sparse import csgraph

from production.planning.clocks import OutsideModel, sowing_day_for
from production.planning.stems import (
    Raised,
    Stand,
    StemSide,
    Tolerance,
    count_pairs,
    expected_pairs,
    match,
    side_sown,
    successions,
)
from production.planning.terms import Clock, Warmth

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
SLOW = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 240.0, 290.0, 360.0)
WARM = Warmth(20.0)
GRAFT_DAY = date(2026, 4, 20)

# Half millimetres, so that stems stand exactly on the edge of the tolerance.
diameters = st.lists(st.integers(2, 12).map(lambda half: half / 2), max_size=14)
tolerances = st.builds(Tolerance, st.integers(0, 4).map(lambda h: h / 2), st.integers(0, 4).map(lambda h: h / 2))


def most_pairs(rootstocks: list[float], scions: list[float], tolerance: Tolerance) -> int:
    """Maximum bipartite matching (Hopcroft and Karp), by scipy."""
    if not rootstocks or not scions:
        return 0
    over = np.array(rootstocks)[:, None] - np.array(scions)[None, :]
    fits = (over <= tolerance.thicker) & (over >= -tolerance.thinner)
    return int((csgraph.maximum_bipartite_matching(sparse.csr_array(fits), perm_type="column") >= 0).sum())


@given(diameters, diameters, tolerances)
def test_no_matching_has_more_pairs(rootstocks, scions, tolerance):
    pairs = match(rootstocks, scions, tolerance)
    assert len(pairs) == most_pairs(rootstocks, scions, tolerance)
    for places in zip(*pairs, strict=True):
        assert len(set(places)) == len(places)
    for i, j in pairs:
        assert -tolerance.thinner <= rootstocks[i] - scions[j] <= tolerance.thicker


def test_large_samples_match_as_well_as_scipy_does():
    rng = np.random.default_rng(20261126)
    for _ in range(20):
        rootstocks, scions = rng.normal(2.6, 0.4, 150).tolist(), rng.normal(2.2, 0.3, 140).tolist()
        tolerance = Tolerance(*rng.uniform(0.0, 0.6, 2))
        assert len(match(rootstocks, scions, tolerance)) == most_pairs(rootstocks, scions, tolerance)


samples = st.lists(diameters, min_size=4, max_size=4)


@given(samples, samples, tolerances)
def test_many_samples_at_once_count_as_one_by_one(roots, tops, tolerance):
    both = [np.full((len(side), 14), np.inf) for side in (roots, tops)]
    for filled, side in zip(both, (roots, tops), strict=True):
        for row, stems in zip(filled, side, strict=True):
            row[: len(stems)] = stems
    one_by_one = [len(match(r, t, tolerance)) for r, t in zip(roots, tops, strict=True)]
    assert count_pairs(*both, tolerance).tolist() == one_by_one


# --- distributions -----------------------------------------------------------------------------------------


def test_one_stem_of_either_side_is_a_normal_chance():
    # rootstock 2.8 ± 0.4, scion 2.4 ± 0.3 mm: the difference is normal, 0.4 ± 0.5.
    tolerance = Tolerance(thicker=0.6, thinner=0.2)
    pairs = [
        expected_pairs(StemSide((Stand(1, 2.8, 0.4),)), StemSide((Stand(1, 2.4, 0.3),)), tolerance, seed=seed).mean
        for seed in range(40)
    ]
    difference = stats.norm(0.4, 0.5)
    chance = difference.cdf(0.6) - difference.cdf(-0.2)
    # 40 × 2,000 pairs: standard error sqrt(p q / 80,000) = 0.0017
    assert np.mean(pairs) == pytest.approx(chance, abs=0.006)


def test_any_fit_stem_pairs_where_no_tolerance_is_asked():
    # The number of stems inside the window is binomial; the other side has plenty.
    side = StemSide((Stand(60, 0.5, 0.5),), window=(0.0, 1.0))
    found = expected_pairs(side, StemSide((Stand(60, 0.5, 0.0),)), Tolerance(9, 9))
    fit = stats.binom(60, stats.norm.cdf(1) - stats.norm.cdf(-1))
    assert found.mean == pytest.approx(fit.mean(), abs=5 * fit.std() / 2000**0.5)
    assert abs(found.bad_day - fit.ppf(0.1)) <= 1
    assert abs(found.good_day - fit.ppf(0.9)) <= 1


def test_equal_stems_all_pair_and_strangers_never():
    same, thick = StemSide((Stand(50, 2.0, 0.0),)), StemSide((Stand(70, 4.0, 0.0),))
    assert expected_pairs(same, same, Tolerance(0, 0)).bad_day == 50
    assert expected_pairs(thick, same, Tolerance(1.9, 9)).good_day == 0
    assert expected_pairs(thick, same, Tolerance(2.0, 0)).mean == 50
    assert expected_pairs(StemSide(()), same, Tolerance(1, 1)).mean == 0


def test_the_same_question_has_the_same_answer():
    sides = StemSide((Stand(40, 2.5, 0.4),), 0.2), StemSide((Stand(40, 2.3, 0.3),), 0.1)
    assert expected_pairs(*sides, Tolerance(0.3, 0.3)) == expected_pairs(*sides, Tolerance(0.3, 0.3))


@given(st.floats(0, 0.6), st.floats(0, 0.6))
def test_more_tolerance_never_gives_fewer_pairs(thicker, more):
    sides = StemSide((Stand(20, 2.6, 0.4),), 0.2), StemSide((Stand(20, 2.3, 0.3),), 0.1)
    less, wider = (expected_pairs(*sides, Tolerance(t, 0.2)) for t in (thicker, thicker + more))
    assert less.mean <= wider.mean
    assert less.bad_day <= wider.bad_day


# --- sowing dates ------------------------------------------------------------------------------------------


def best_day(clock: Clock) -> date:
    return sowing_day_for(clock, GRAFT_DAY, WARM, WARM).aim


def test_a_sowing_date_becomes_a_place_in_the_window():
    # 20 °C: emergence on day 8 (102.4 / 12.38 = 8.27), then 12 °C·d a night; 28 days after sowing 240 °C·d,
    # which is 40 % of the way from 200 to 300 (by hand).
    raised = Raised(CLOCK, WARM, WARM, spread=10.0, together=20.0)
    side = side_sown(raised, [(GRAFT_DAY - timedelta(days=28), 30)], GRAFT_DAY)
    (stand,) = side.stands
    assert (stand.stems, stand.mean, stand.spread) == (30, pytest.approx(0.4), pytest.approx(0.1))
    assert side.together == pytest.approx(0.2)
    late = side_sown(raised, [(GRAFT_DAY - timedelta(days=5), 30)], GRAFT_DAY)
    assert late.stands[0].mean == pytest.approx((-3 * 12 - 200) / 100)


@pytest.mark.parametrize("divide", ["rootstock", "scion"])
def test_a_second_sowing_lifts_the_bad_day_and_not_the_mean(divide):
    # The clock of one side is unsure by 45 °C·d (not quite four days at 20 °C), single plants by 12.
    unsure, sure = 45.0, 5.0
    sides = [
        (Raised(clock, WARM, WARM, 12.0, unsure if name == divide else sure), best_day(clock))
        for name, clock in (("rootstock", SLOW), ("scion", CLOCK))
    ]
    one, *twice = successions(*sides, (100, 100), GRAFT_DAY, Tolerance(0.4, 0.4), divide)
    assert (one.sowings, one.apart) == (1, 0)
    best = max(twice, key=lambda found: found.pairs.bad_day)
    assert best.pairs.bad_day >= one.pairs.bad_day + 3
    assert all(found.pairs.mean <= one.pairs.mean + 1 for found in twice)


def test_where_the_clock_is_sure_a_second_sowing_buys_nothing():
    raised = [(Raised(clock, WARM, WARM, 12.0), best_day(clock)) for clock in (SLOW, CLOCK)]
    one, *twice = successions(*raised, (60, 60), GRAFT_DAY, Tolerance(0.4, 0.4), most=3)
    assert {found.sowings for found in twice} == {2, 3}
    assert all(found.pairs.bad_day <= one.pairs.bad_day for found in twice)


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="tolerance"):
        Tolerance(-0.1, 0.2)
    with pytest.raises(ValueError, match="nought or more"):
        Stand(-1, 2.0, 0.2)
    with pytest.raises(ValueError, match="nought or more"):
        Stand(1, 2.0, float("nan"))
    narrow = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 200.0, 200.0)
    with pytest.raises(ValueError, match="graftable_last"):
        side_sown(Raised(narrow, WARM, WARM, 10.0), [(GRAFT_DAY, 1)], GRAFT_DAY)
    with pytest.raises(OutsideModel):
        side_sown(Raised(CLOCK, Warmth(5.0), WARM, 10.0), [(GRAFT_DAY, 1)], GRAFT_DAY)
