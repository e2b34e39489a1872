"""Lines that share a sowing: less to spare together, and every line still served, by a seeded simulation."""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from production.planning.least_cost import Costs
from production.planning.pooling import Pool, Use, Wanted, divided, pool, pool_side
from production.planning.sizing import size_at_least_cost, size_grafted
from production.planning.supply import Supply
from production.planning.terms import Clock, Material, Rate

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.85, 40), usable=Rate(0.85, 40))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
OTHER = Material("other", "another scion", CLOCK, emerged=Rate(0.9, 60), usable=Rate(0.85, 60))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)
GROWN = (ROOTSTOCK, SCION, TAKE, KEPT)
LINES = (Wanted("first", 24), Wanted("second", 60), Wanted("third", 12), Wanted("fourth", 40))


def needed(found: Pool) -> int:
    sizing = found.together.sizing
    return sizing.grafts + sizing.rootstock_seeds + sizing.scion_seeds


def test_lines_sown_together_need_less_to_spare_than_the_sum_of_each_alone():
    together = pool(LINES, *GROWN)
    alone = [size_at_least_cost(line.plants, *GROWN, line.level).sizing for line in LINES]
    # Without any spare, by the means alone, 136 plants would take so much whether together or apart.
    bare = 136 / (0.9 * 0.97) * (1 + 1 / (0.85 * 0.85) + 1 / (0.95 * 0.92))
    spare_alone = sum(s.grafts + s.rootstock_seeds + s.scion_seeds for s in alone) - bare
    assert 0 < needed(together) - bare < 0.8 * spare_alone
    for name in ("grafts", "rootstock_seeds", "scion_seeds"):
        assert getattr(together.together.sizing, name) < sum(getattr(sizing, name) for sizing in alone)


def test_spare_for_luck_alone_falls_with_the_root_of_the_lines():
    # With known shares only the luck of single plants is left, whose spread grows with the root of their number:
    # of sixteen equal lines together a quarter of their spare apart.
    shares = [replace(material, emerged=Rate(0.85, inf), usable=Rate(0.9, inf)) for material in (ROOTSTOCK, SCION)]
    grown = (*shares, Rate(0.9, inf), Rate(0.97, inf))
    bare = 100 / (0.9 * 0.97) * (1 + 2 / (0.85 * 0.9))
    alike = Costs(1, 1, 1)
    one = size_at_least_cost(100, *grown, 0.95, alike).cost - bare
    together = pool([Wanted(str(n), 100) for n in range(16)], *grown, alike).together.cost - 16 * bare
    assert together / (16 * one) == pytest.approx(1 / 4, abs=0.04)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(1, 60), min_size=2, max_size=5), st.sampled_from([0.8, 0.95]))
def test_a_pool_never_costs_more_than_its_lines_alone(plants: list[int], level: float):
    together = pool([Wanted(str(n), wanted, level) for n, wanted in enumerate(plants)], *GROWN).together
    assert together.cost <= sum(size_at_least_cost(wanted, *GROWN, level).cost for wanted in plants)


def test_each_line_is_told_its_share_and_the_shares_are_the_whole():
    found = pool(LINES, *GROWN, Costs(), Supply(72, 100), Supply(72, 100))
    sizing = found.together.sizing
    assert [share.key for share in found.shares] == ["first", "second", "third", "fourth"]
    assert sum(share.grafts for share in found.shares) == sizing.grafts
    assert sum(share.rootstock_seeds for share in found.shares) == sizing.rootstock_seeds
    assert sum(share.scion_seeds for share in found.shares) == sizing.scion_seeds
    assert all(share.grafts >= share.plants for share in found.shares)
    assert [share.chance for share in found.shares] == sorted((s.chance for s in found.shares), reverse=True)
    assert found.shares[-1].chance == pytest.approx(sizing.chance)


def test_the_strictest_level_holds_for_all():
    found = pool((Wanted("usual", 30, 0.9), Wanted("strict", 30, 0.99)), *GROWN)
    assert min(share.chance for share in found.shares) >= 0.99


def test_one_line_alone_is_its_own_pool():
    found = pool((Wanted("only", 50),), *GROWN)
    assert found.together == size_at_least_cost(50, *GROWN, 0.95)
    (share,) = found.shares
    assert (share.grafts, share.chance) == (found.together.sizing.grafts, found.together.sizing.chance)


def draw(rng: np.random.Generator, trials: np.ndarray | int, *shares: Rate) -> np.ndarray:
    for rate in shares:
        good = rate.mean * rate.weight
        trials = rng.binomial(trials, rng.beta(good, rate.weight - good, 200_000))
    return np.asarray(trials)


def test_a_shared_rootstock_serves_every_line_in_a_simulation():
    # 200,000 seeded seasons; the stems of one sowing are divided in proportion to the grafts planned. The standard
    # error is under 0.0006; two Betas in a row are taken for one, which costs up to 0.002.
    uses = (("a", 40, SCION, 0.95), ("b", 15, OTHER, 0.9), ("c", 80, SCION, 0.95))
    lines = [Use(key, plants, other, TAKE, KEPT, level) for key, plants, other, level in uses]
    found = pool_side(lines, ROOTSTOCK, "rootstock")
    assert sum(share.seeds for share in found.shares) == found.sown.seeds < found.alone
    rng = np.random.default_rng(20261126)
    rootstocks = draw(rng, found.sown.seeds, ROOTSTOCK.emerged, ROOTSTOCK.usable)
    whole = sum(share.grafts for share in found.shares)
    for line, share in zip(lines, found.shares, strict=True):
        mine = np.minimum(rootstocks * share.grafts // whole, share.grafts)
        other = draw(rng, share.other_seeds, line.other.emerged, line.other.usable)
        ready = draw(rng, np.minimum(mine, other), line.take, line.kept)
        assert np.mean(ready >= line.plants) == pytest.approx(share.chance, abs=0.005)
        assert share.chance >= line.level


def test_a_shared_scion_is_shared_alike_and_fills_trays():
    lines = [Use(str(n), 20, ROOTSTOCK, TAKE, KEPT) for n in range(6)]
    found = pool_side(lines, SCION, "scion", Supply(cells=72, pack=250))
    alone = size_grafted(20, *GROWN, 0.95)
    assert found.alone == 6 * alone.scion_seeds
    assert found.sown.seeds % 72 == 0
    assert {share.grafts for share in found.shares} == {alone.grafts}
    assert {share.other_seeds for share in found.shares} == {alone.rootstock_seeds}
    assert pool_side(lines, SCION, "scion").sown.seeds < found.alone


@given(st.integers(0, 5000), st.lists(st.integers(1, 400), min_size=1, max_size=8))
def test_a_number_is_divided_whole_and_within_one_of_its_proportion(number: int, among: list[int]):
    shares = divided(number, among)
    assert sum(shares) == number
    assert all(abs(share - number * part / sum(among)) < 1 for share, part in zip(shares, among, strict=True))


def test_a_pool_of_nothing_is_refused():
    with pytest.raises(ValueError, match="a pool has a line"):
        pool((), *GROWN)
    with pytest.raises(ValueError, match="a plant at least"):
        pool((Wanted("none", 0),), *GROWN)
    with pytest.raises(ValueError, match="a line at least"):
        pool_side([], ROOTSTOCK, "rootstock")
