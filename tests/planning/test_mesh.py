"""The mesh against scipy's distributions and against counting every number."""

from math import inf

import numpy as np
import pytest
from scipy import special, stats

from production.planning import chances, mesh
from production.planning.chain import Chain
from production.planning.chances import OutOfReach
from production.planning.terms import Rate

RATES = [
    Rate(0.9, inf),
    Rate(0.9, 40),
    Rate(0.99, 60),
    Rate(0.99, 5),
    Rate(0.5, 500),
    Rate(0.85, 1e4),
    Rate(0.3, 5),
]


def reference(trials: int, rate: Rate):
    if rate.weight == inf:
        return stats.binom(trials, rate.mean)
    return stats.betabinom(trials, rate.mean * rate.weight, (1 - rate.mean) * rate.weight)


def test_log_gamma_is_that_of_scipy():
    x = np.concatenate((np.linspace(0.001, 40, 4001), np.geomspace(40, 1e9, 1001)))
    assert mesh.log_gamma(x) == pytest.approx(special.gammaln(x), rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("rate", RATES, ids=str)
@pytest.mark.parametrize("trials", [1, 10, 300, 3000, 30_000, 1_000_000])
def test_the_tail_is_that_of_scipy(trials: int, rate: Rate):
    numbers = np.unique(np.linspace(0, trials, 2001).astype(int))
    # scipy's binom keeps its figures everywhere; its betabinom sums them up, so that many numbers take long.
    if rate.weight != inf and trials > 30_000:
        exact = chances.at_least(trials, rate)[numbers]
    else:
        exact = reference(trials, rate).sf(numbers - 1)
    assert mesh.tail(trials, rate).at(numbers.astype(float)) == pytest.approx(exact, abs=1e-5)


@pytest.mark.parametrize("rate", RATES, ids=str)
@pytest.mark.parametrize("wanted", [1, 7, 60, 500, 4000, 100_000])
def test_what_is_needed_is_enough_and_one_less_is_not(wanted: int, rate: Rate):
    for level in (0.6, 0.93, 0.987):
        try:
            trials = mesh.needed(wanted, rate, level)
        except OutOfReach:
            with pytest.raises(OutOfReach):
                chances.needed(wanted, rate, level)
            continue
        assert chances.chance_of_at_least(wanted, trials, rate) >= level - 1e-5
        assert chances.chance_of_at_least(wanted, trials - 1, rate) < level + 1e-5


def test_certain_shares_need_nothing_to_spare():
    assert mesh.needed(100, Rate(1.0), 0.99) == 100
    assert mesh.chance_of_at_least(100, 100, Rate(1.0)) == 1.0
    assert mesh.chance_of_at_least(1, 100, Rate(0.0)) == 0.0
    with pytest.raises(OutOfReach):
        mesh.needed(1, Rate(0.0), 0.9)


@pytest.mark.parametrize("weight", [inf, 300, 40])
@pytest.mark.parametrize("wanted", [1, 12, 60, 500, 3000])
def test_the_whole_chain_is_as_if_counted(wanted: int, weight: float):
    """P(enough) = Σ P(graft m makes up the number) · P(m rootstocks) · P(m scions), all by scipy."""
    rootstock, scion, after = Rate(0.72, weight), Rate(0.9, weight), Rate(0.87, weight)
    grafts, rootstock_seeds, scion_seeds = (int(wanted * more) + 2 for more in (1.2, 1.7, 1.35))
    m = np.arange(grafts + 1)
    through = np.array([reference(int(n), after).sf(wanted - 1) if n else 0.0 for n in m])
    both = reference(rootstock_seeds, rootstock).sf(m - 1) * reference(scion_seeds, scion).sf(m - 1)
    exact = float(np.diff(through, prepend=0.0) @ both)
    chain = Chain(wanted, rootstock, scion, after)
    assert chain.chance(grafts, rootstock_seeds, scion_seeds) == pytest.approx(exact, abs=1e-5)
    expected = after.mean * both[1:].sum()
    assert chain.expected(grafts, rootstock_seeds, scion_seeds) == pytest.approx(expected, rel=1e-6)


def test_a_million_plants_as_in_a_simulation():
    # 400,000 seeded seasons: the standard error is under 0.0005.
    chain = Chain(1_000_000, Rate(0.72, 60), Rate(0.9, 100), Rate(0.87, 80))
    numbers = (1_280_000, 1_900_000, 1_480_000)
    rng = np.random.default_rng(20261126)

    def come(trials: np.ndarray | int, rate: Rate) -> np.ndarray:
        return rng.binomial(trials, rng.beta(rate.mean * rate.weight, (1 - rate.mean) * rate.weight, 400_000))

    pairs = np.minimum(numbers[0], np.minimum(come(numbers[1], chain.rootstock), come(numbers[2], chain.scion)))
    ready = come(pairs, chain.after)
    assert chain.chance(*numbers) == pytest.approx(np.mean(ready >= chain.wanted), abs=0.002)
    assert chain.expected(*numbers) == pytest.approx(ready.mean(), rel=0.001)
