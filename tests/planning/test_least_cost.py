"""The cheapest seeds and grafts, against every mix tried by brute force with scipy, and a seeded simulation."""

from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from production.planning.chances import OutOfReach, combine
from production.planning.least_cost import Costs
from production.planning.sizing import (
    plain_given,
    size_at_least_cost,
    size_given,
    size_grafted,
    size_plain,
    stems,
)
from production.planning.supply import Supply, filled
from production.planning.terms import Clock, Material, Rate

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.85, 40), usable=Rate(0.85, 40))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)
GROWN = (ROOTSTOCK, SCION, TAKE, KEPT)

# Shares of the cost: seed a third, of it four fifths scion, and grafting a quarter (Pardo-Alonso et al. 2019).
DEAR_SCION = Costs(rootstock_seed=0.07, scion_seed=0.27, graft=0.25)
# Dollars, organic tomato: rootstock seed 0.28 (Barrett, Zhao, Hodges 2012); the rest is rounded, from memory.
DEAR_ROOTSTOCK = Costs(rootstock_seed=0.28, scion_seed=0.03, graft=0.10)


def reference(trials: int, rate: Rate):
    if rate.weight == inf:
        return stats.binom(trials, rate.mean)
    return stats.betabinom(trials, rate.mean * rate.weight, (1 - rate.mean) * rate.weight)


def cheapest_by_trying_all(wanted: int, level: float, costs: Costs, most: int) -> float:
    """The least cost over all grafts and seeds of either side up to `most`."""
    after = combine(TAKE, KEPT)
    m = np.arange(most)
    through = np.array([reference(grafts, after).sf(wanted - 1) if grafts else 0.0 for grafts in m])
    gains = np.diff(through, prepend=0.0)
    seeds = range(wanted, most)
    rootstocks, scions = (
        np.array([reference(n, stems(side)).sf(m - 1) for n in seeds]) for side in (ROOTSTOCK, SCION)
    )
    spent = costs.rootstock_seed * np.array(seeds)[:, None] + costs.scion_seed * np.array(seeds)[None, :]
    least = inf
    for grafts in range(wanted, most):
        enough = (rootstocks * np.where(m <= grafts, gains, 0.0)) @ scions.T >= level
        if enough.any():
            least = min(least, grafts * costs.graft + spent[enough].min())
    return least


@pytest.mark.parametrize("costs", [Costs(), Costs(1, 1, 1), DEAR_SCION, DEAR_ROOTSTOCK, Costs(0.05, 0.05, 1.0)])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
@pytest.mark.parametrize(("wanted", "most"), [(1, 14), (5, 28), (20, 75)])
def test_no_mix_is_cheaper(wanted: int, most: int, level: float, costs: Costs):
    found = size_at_least_cost(wanted, *GROWN, level, costs)
    assert found.sizing.chance >= level
    assert found.cost == pytest.approx(cheapest_by_trying_all(wanted, level, costs, most), rel=0.002)


@pytest.mark.parametrize("costs", [Costs(), Costs(1, 1, 1), DEAR_SCION, DEAR_ROOTSTOCK])
@pytest.mark.parametrize("wanted", [10, 100, 3000, 200_000])
@pytest.mark.parametrize("level", [0.8, 0.95, 0.99])
def test_it_is_never_dearer_than_the_staircase(wanted: int, level: float, costs: Costs):
    even = size_grafted(wanted, *GROWN, level)
    found = size_at_least_cost(wanted, *GROWN, level, costs)
    assert level <= found.sizing.chance < level + max(0.002, 2 / wanted)
    assert found.cost <= costs.of(even.grafts, even.rootstock_seeds, even.scion_seeds) * 1.0005


@pytest.mark.parametrize("costs", [Costs(), DEAR_SCION, DEAR_ROOTSTOCK])
@pytest.mark.parametrize("wanted", [10, 40, 300, 5000])
def test_the_staircase_runs_near_the_cheapest_mix_whatever_the_costs(wanted: int, costs: Costs):
    climbed = size_grafted(wanted, *GROWN, 0.95, costs)
    spent = costs.of(climbed.grafts, climbed.rootstock_seeds, climbed.scion_seeds)
    assert climbed.chance >= 0.95
    assert spent <= 1.025 * size_at_least_cost(wanted, *GROWN, 0.95, costs).cost


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 200), st.floats(0.6, 0.97), st.sampled_from([DEAR_SCION, DEAR_ROOTSTOCK]))
def test_the_staircase_only_goes_up_whatever_the_costs(wanted: int, level: float, costs: Costs):
    def numbers(wanted: int, level: float) -> tuple[int, int, int]:
        sizing = size_grafted(wanted, *GROWN, level, costs)
        return sizing.grafts, sizing.rootstock_seeds, sizing.scion_seeds

    for more in (numbers(wanted + 1, level), numbers(wanted, level + 0.02)):
        assert all(a <= b for a, b in zip(numbers(wanted, level), more, strict=True))


def test_seed_that_costs_more_is_sown_more_sparingly():
    dear_scion, dear_rootstock = (
        size_at_least_cost(200, *GROWN, 0.95, c).sizing for c in (DEAR_SCION, DEAR_ROOTSTOCK)
    )
    assert dear_scion.scion_seeds < dear_rootstock.scion_seeds
    assert dear_scion.rootstock_seeds > dear_rootstock.rootstock_seeds


@pytest.mark.parametrize("wanted", [12, 300, 100_000])
def test_the_level_is_met_in_a_simulation_of_every_step(wanted: int):
    # 200,000 seeded orders; each share is drawn by itself, none is combined: the standard error is under 0.0005.
    rng = np.random.default_rng(20261126)

    def come(trials: np.ndarray | int, *shares: Rate) -> np.ndarray:
        for rate in shares:
            trials = rng.binomial(
                trials, rng.beta(rate.mean * rate.weight, (1 - rate.mean) * rate.weight, 200_000)
            )
        return trials

    sizing = size_at_least_cost(wanted, *GROWN, 0.95, DEAR_SCION).sizing
    rootstocks = come(sizing.rootstock_seeds, ROOTSTOCK.emerged, ROOTSTOCK.usable)
    scions = come(sizing.scion_seeds, SCION.emerged, SCION.usable)
    ready = come(np.minimum(sizing.grafts, np.minimum(rootstocks, scions)), TAKE, KEPT)
    # The product of two Betas is taken for a Beta, which costs up to 0.002.
    assert np.mean(ready >= wanted) == pytest.approx(sizing.chance, abs=0.004)
    assert ready.mean() == pytest.approx(sizing.expected, rel=0.005)


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 400), st.integers(1, 128), st.integers(1, 72), st.sampled_from([0.8, 0.95]))
def test_seeds_fill_whole_trays(wanted: int, rootstock_cells: int, scion_cells: int, level: float):
    supplies = (Supply(rootstock_cells, pack=500), Supply(scion_cells, pack=100))
    found = size_at_least_cost(wanted, *GROWN, level, Costs(), *supplies)
    assert found.sizing.chance >= level
    assert (found.rootstock.seeds, found.scion.seeds) == (found.sizing.rootstock_seeds, found.sizing.scion_seeds)
    for side, supply in zip((found.rootstock, found.scion), supplies, strict=True):
        assert side.seeds == side.trays * supply.cells
        assert side.packs * supply.pack == side.seeds + side.left
        assert side.left < supply.pack


def test_whole_trays_cost_at_least_what_single_cells_cost():
    loose = size_at_least_cost(100, *GROWN, 0.95)
    in_trays = size_at_least_cost(100, *GROWN, 0.95, Costs(), Supply(72), Supply(72))
    assert in_trays.sizing.rootstock_seeds % 72 == in_trays.sizing.scion_seeds % 72 == 0
    assert loose.cost <= in_trays.cost <= loose.cost + 2 * 72


def test_trays_and_packs_by_hand():
    # 130 seeds fill two trays of 72, 144 seeds, out of two packs of 100, of which 56 are left.
    two = filled(130, Supply(cells=72, pack=100))
    assert (two.seeds, two.trays, two.packs, two.left) == (144, 2, 2, 56)
    loose = filled(130, Supply())
    assert (loose.seeds, loose.trays, loose.packs, loose.left) == (130, 130, 130, 0)


# --- read the other way ------------------------------------------------------------------------------------


@pytest.mark.parametrize("wanted", [1, 60, 1500, 5000])
def test_what_was_sized_is_enough_with_the_chance_it_was_sized_for(wanted: int):
    sizing = size_grafted(wanted, *GROWN, 0.95)
    given_ = size_given(wanted, *GROWN, sizing.rootstock_seeds, sizing.scion_seeds, sizing.grafts)
    assert given_.chance == pytest.approx(sizing.chance, abs=1e-5)
    assert given_.expected == pytest.approx(sizing.expected, rel=1e-5)
    plain = size_plain(wanted, SCION, KEPT, 0.95)
    assert plain_given(wanted, SCION, KEPT, plain.scion_seeds).chance == pytest.approx(plain.chance, abs=1e-5)


def test_two_trays_of_either_side_for_a_hundred():
    # Two trays of 72 for 100 plants: the scarcer side, rootstock at 0.7225, gives 104 stems, 91 plants: hardly.
    chance = size_given(100, *GROWN, 144, 144).chance
    assert chance < 0.25
    assert size_given(100, *GROWN, 216, 144).chance > chance
    assert size_given(100, *GROWN, 216, 144, grafts=100).chance < size_given(100, *GROWN, 216, 144).chance
    assert size_given(100, *GROWN, 99, 500).chance == 0.0


@pytest.mark.parametrize("seeds", [(0, 10), (10, 0), (0, 0)])
def test_no_seeds_give_no_plants(seeds: tuple[int, int]):
    nothing = size_given(5, *GROWN, *seeds)
    assert (nothing.chance, nothing.expected) == (0.0, 0.0)


# --- what makes no sense -----------------------------------------------------------------------------------


@pytest.mark.parametrize("costs", [(0, 1, 1), (1, -1, 1), (1, 1, inf), (float("nan"), 1, 1)])
def test_a_cost_of_nothing_is_refused(costs: tuple[float, float, float]):
    with pytest.raises(ValueError, match="a cost is above zero"):
        Costs(*costs)


def test_trays_without_cells_and_orders_without_plants_are_refused():
    with pytest.raises(ValueError, match="one cell"):
        Supply(cells=0)
    with pytest.raises(ValueError, match="at least one plant"):
        size_at_least_cost(0, *GROWN, 0.95)
    with pytest.raises(ValueError, match="at least one plant"):
        size_given(0, *GROWN, 10, 10)
    with pytest.raises(ValueError, match="nought"):
        size_given(10, *GROWN, -1, 10)


def test_rootstock_that_never_emerges_is_refused():
    dead = Material("rootstock", "", CLOCK, Rate(0.0), Rate(0.9))
    with pytest.raises(OutOfReach):
        size_at_least_cost(10, dead, SCION, TAKE, KEPT, 0.95)
