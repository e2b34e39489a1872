"""Sizes against scipy's distributions, a table computed with it, and a seeded simulation of the whole chain."""

from math import ceil, inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special, stats

from production.planning.chances import (
    OutOfReach,
    at_least,
    chance_of_at_least,
    combine,
    distribution,
    needed,
)
from production.planning.sizing import size_grafted, size_plain, stems
from production.planning.staircase import COUNTED
from production.planning.terms import Clock, Material, Rate

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.85, 40), usable=Rate(0.85, 40))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)

rates = st.builds(Rate, st.floats(0.3, 0.99), st.one_of(st.just(inf), st.floats(5, 500)))


def known(share: float) -> Rate:
    return Rate(share, inf)


def reference(trials: int, rate: Rate):
    if rate.weight == inf:
        return stats.binom(trials, rate.mean)
    return stats.betabinom(trials, rate.mean * rate.weight, (1 - rate.mean) * rate.weight)


# --- one share ---------------------------------------------------------------------------------------------

# Plants wanted, share; chance that ⌈n/p⌉ is enough; trials for 90, 95 and 99 %, and for 95 % when plants of one
# order do well or badly together (intraclass correlation 0.01). Computed once with scipy.
TABLE = [
    (50, 0.90, 56, 0.674, (59, 60, 62), 61),
    (100, 0.75, 134, 0.585, (142, 145, 150), 152),
    (100, 0.85, 118, 0.593, (124, 125, 129), 130),
    (100, 0.90, 112, 0.672, (116, 117, 120), 121),
    (500, 0.85, 589, 0.558, (601, 605, 613), 639),
    (1000, 0.85, 1177, 0.535, (1195, 1201, 1211), 1274),
    (1000, 0.95, 1053, 0.556, (1062, 1065, 1071), 1101),
]


@pytest.mark.parametrize(("wanted", "share", "by_mean", "chance", "by_level", "together"), TABLE)
def test_the_table_of_sizes(wanted, share, by_mean, chance, by_level, together):
    assert ceil(wanted / share) == by_mean
    assert chance_of_at_least(wanted, by_mean, known(share)) == pytest.approx(chance, abs=0.0006)
    assert tuple(needed(wanted, known(share), level) for level in (0.90, 0.95, 0.99)) == by_level
    # Intraclass correlation ρ is 1 / (weight + 1): 0.01 is a weight of 99.
    assert needed(wanted, Rate(share, 99), 0.95) == together


def test_germination_usable_and_take_in_one_order():
    # 0.90 × 0.85 × 0.95 = 0.72675: 1,000 plants want 1,376 seeds by the mean, 1,414 at 95 %; 100 want 138 and 150.
    share = combine(known(0.90), known(0.85), known(0.95))
    assert (share.mean, share.weight) == (pytest.approx(0.72675), inf)
    assert [ceil(wanted / share.mean) for wanted in (1000, 100)] == [1376, 138]
    assert [needed(wanted, share, 0.95) for wanted in (1000, 100)] == [1414, 150]


@given(st.integers(1, 400), rates)
def test_the_distribution_is_that_of_scipy(trials: int, rate: Rate):
    k = np.arange(trials + 1)
    assert distribution(trials, rate) == pytest.approx(reference(trials, rate).pmf(k), abs=1e-9)
    assert at_least(trials, rate) == pytest.approx(reference(trials, rate).sf(k - 1), abs=1e-9)


@given(st.integers(1, 300), rates, st.floats(0.5, 0.99))
def test_what_is_needed_is_enough_and_one_less_is_not(wanted: int, rate: Rate, level: float):
    trials = needed(wanted, rate, level)
    assert reference(trials, rate).sf(wanted - 1) >= level - 1e-9
    assert reference(trials - 1, rate).sf(wanted - 1) < level + 1e-9


@given(st.lists(st.builds(Rate, st.floats(0.3, 0.99), st.floats(5, 500)), min_size=1, max_size=4))
def test_a_product_of_shares_keeps_mean_and_variance(shares: list[Rate]):
    betas = [stats.beta(rate.mean * rate.weight, (1 - rate.mean) * rate.weight) for rate in shares]
    mean = np.prod([beta.mean() for beta in betas])
    variance = np.prod([beta.var() + beta.mean() ** 2 for beta in betas]) - mean**2
    combined = combine(*shares)
    matched = stats.beta(combined.mean * combined.weight, (1 - combined.mean) * combined.weight)
    assert matched.mean() == pytest.approx(mean)
    assert matched.var() == pytest.approx(variance, rel=1e-6)


def test_certain_shares_need_nothing_to_spare():
    assert needed(100, Rate(1.0), 0.99) == 100
    assert chance_of_at_least(100, 100, Rate(1.0)) == 1.0
    assert chance_of_at_least(1, 100, Rate(0.0)) == 0.0
    assert chance_of_at_least(0, 0, Rate(0.5)) == 1.0


@pytest.mark.parametrize("rate", [Rate(0.0), Rate(1e-9), Rate(0.05, 0.5)])
def test_a_share_with_which_no_amount_is_enough_is_refused(rate: Rate):
    with pytest.raises(OutOfReach):
        needed(1000, rate, 0.99)


@pytest.mark.parametrize("rate", [Rate(-0.1), Rate(1.1), Rate(0.5, 0.0)])
def test_what_is_no_share_is_refused(rate: Rate):
    with pytest.raises(ValueError, match="a share lies"):
        needed(10, rate, 0.9)


# Crowder 1978, Applied Statistics 27:34: seeds that germinated, of seeds, on 21 plates in four groups.
GERMINATED = [10, 23, 23, 26, 17, 5, 53, 55, 32, 46, 10, 8, 10, 8, 23, 0, 3, 22, 15, 32, 3]
SEEDS = [39, 62, 81, 51, 39, 6, 74, 72, 51, 79, 13, 16, 30, 28, 45, 4, 12, 41, 30, 51, 7]
GROUPS = np.repeat([0, 1, 2, 3], [5, 6, 5, 5])


def test_crowders_plates_are_copied_right():
    sums = [tuple(int(np.array(counts)[g == GROUPS].sum()) for counts in (GERMINATED, SEEDS)) for g in range(4)]
    assert sums == [(99, 272), (201, 295), (49, 123), (75, 141)]
    assert (sum(GERMINATED), sum(SEEDS)) == (424, 831)


def test_crowders_plates_are_as_likely_as_published():
    # The beta-binomial fit of R's aod package, a mean for each group and one correlation for all: ρ = 0.01236,
    # −log L = 53.767. Our distribution has the same maximum at the same place.
    def surprise(parameters: np.ndarray) -> float:
        means, weight = special.expit(parameters[:4]), float(np.exp(parameters[4]))
        return -sum(
            np.log(distribution(seeds, Rate(float(means[group]), weight))[germinated])
            for germinated, seeds, group in zip(GERMINATED, SEEDS, GROUPS, strict=True)
        )

    fit = optimize.minimize(surprise, [0.0, 0.0, 0.0, 0.0, 4.0], method="BFGS")
    assert fit.fun == pytest.approx(53.767, abs=0.001)
    assert 1 / (np.exp(fit.x[4]) + 1) == pytest.approx(0.01236, abs=0.0002)


# --- the whole chain ---------------------------------------------------------------------------------------


def test_a_plain_line_is_one_chain():
    sizing = size_plain(200, SCION, KEPT, 0.95)
    share = combine(SCION.emerged, SCION.usable, KEPT)
    assert sizing.scion_seeds == needed(200, share, 0.95)
    assert (sizing.grafts, sizing.rootstock_seeds) == (0, 0)
    assert sizing.chance == pytest.approx(reference(sizing.scion_seeds, share).sf(199))
    assert sizing.expected == pytest.approx(reference(sizing.scion_seeds, share).mean())


def draw(rng: np.random.Generator, rate: Rate, trials: np.ndarray) -> np.ndarray:
    """Plants that come through, each order with a share of its own."""
    shares = rng.beta(rate.mean * rate.weight, (1 - rate.mean) * rate.weight, trials.shape)
    return rng.binomial(trials, shares)


@pytest.mark.parametrize("wanted", [1, 12, 50, 300, 1000])
@pytest.mark.parametrize("level", [0.8, 0.95])
def test_the_level_is_met_in_a_simulation_of_every_step(wanted: int, level: float):
    # 200,000 seeded orders; each share is drawn by itself, none is combined: the standard error is under 0.001.
    rng = np.random.default_rng(20260302)
    sizing = size_grafted(wanted, ROOTSTOCK, SCION, TAKE, KEPT, level)
    orders = np.ones(200_000, int)
    rootstocks = draw(rng, ROOTSTOCK.usable, draw(rng, ROOTSTOCK.emerged, sizing.rootstock_seeds * orders))
    scions = draw(rng, SCION.usable, draw(rng, SCION.emerged, sizing.scion_seeds * orders))
    grafts = np.minimum(sizing.grafts, np.minimum(rootstocks, scions))
    ready = draw(rng, KEPT, draw(rng, TAKE, grafts))
    chance = np.mean(ready >= wanted)
    assert chance == pytest.approx(sizing.chance, abs=0.006)
    assert chance >= level - 0.004
    assert ready.mean() == pytest.approx(sizing.expected, rel=0.005)


@pytest.mark.parametrize("wanted", [5, 20, 40])
@pytest.mark.parametrize("level", [0.8, 0.9, 0.95, 0.99])
def test_seeds_and_grafts_come_near_the_least_cost_that_could_be(wanted: int, level: float):
    """Against all numbers of grafts and of seeds per side, tried with scipy; a graft counts as two seeds."""
    after = combine(TAKE, KEPT)
    m = np.arange(wanted * 3)
    through = np.array([reference(grafts, after).sf(wanted - 1) if grafts else 0.0 for grafts in m])
    sizing = size_grafted(wanted, ROOTSTOCK, SCION, TAKE, KEPT, level)
    ours = 2 * sizing.grafts + sizing.rootstock_seeds + sizing.scion_seeds
    sides = [
        {seeds: reference(seeds, stems(side)).sf(m - 1) for seeds in range(wanted, 3 * wanted)}
        for side in (ROOTSTOCK, SCION)
    ]
    least = ours
    for grafts in range(wanted, sizing.grafts + 8):
        gains = np.where(m <= grafts, np.diff(through, prepend=0.0), 0.0)
        table = np.array(list(sides[0].values())) * gains @ np.array(list(sides[1].values())).T
        met = np.argwhere(table >= level)
        if met.size:
            least = min(least, 2 * grafts + 2 * wanted + int(met.sum(axis=1).min()))
    assert least <= ours <= 1.01 * least + 2


@settings(max_examples=25)
@given(rates, rates, rates, st.integers(1, 120), st.floats(0.6, 0.97))
def test_more_plants_or_more_certainty_never_take_less(rootstock, scion, take, wanted, level):
    rootstock = Material("rootstock", "", CLOCK, rootstock, Rate(0.9))
    scion = Material("scion", "", CLOCK, scion, Rate(0.9))

    def sizes(wanted: int, level: float) -> tuple[int, int, int]:
        sizing = size_grafted(wanted, rootstock, scion, take, KEPT, level)
        assert sizing.chance >= level
        return sizing.grafts, sizing.rootstock_seeds, sizing.scion_seeds

    for more in (sizes(wanted + 1, level), sizes(wanted, level + 0.02)):
        assert all(a <= b for a, b in zip(sizes(wanted, level), more, strict=True))


def test_sizes_grow_across_the_border_to_the_mesh():
    sizes = [size_grafted(n, ROOTSTOCK, SCION, TAKE, KEPT, 0.95) for n in range(COUNTED - 3, COUNTED + 4)]
    assert [s.grafts for s in sizes] == sorted(s.grafts for s in sizes)
    assert [s.scion_seeds for s in sizes] == sorted(s.scion_seeds for s in sizes)
    assert sizes[-1].grafts <= 1.005 * sizes[0].grafts
    assert sizes[-1].expected == pytest.approx(sizes[0].expected * (COUNTED + 3) / (COUNTED - 3), rel=1e-3)


@pytest.mark.parametrize("wanted", [0, -3])
def test_a_line_of_no_plants_is_refused(wanted: int):
    with pytest.raises(ValueError, match="at least one plant"):
        size_grafted(wanted, ROOTSTOCK, SCION, TAKE, KEPT, 0.95)
    with pytest.raises(ValueError, match="at least one plant"):
        size_plain(wanted, SCION, KEPT, 0.95)


def test_rootstock_that_never_emerges_is_refused():
    dead = Material("rootstock", "", CLOCK, Rate(0.0), Rate(0.9))
    with pytest.raises(OutOfReach):
        size_grafted(10, dead, SCION, TAKE, KEPT, 0.95)
