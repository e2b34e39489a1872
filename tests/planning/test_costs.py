"""What a seed and a graft cost, by hand."""

from dataclasses import replace

import pytest

from production.planning.costs import Bought, costs_of
from production.planning.sizing import size_grafted
from production.planning.terms import HAND_OVER, Prices, WorkRule
from tests.planning import nursery

PRICES = Prices(hour=24.0, metre_week=3.0)
BOUGHT = Bought(rootstock_seed=0.28, scion_seed=0.10, per_graft=0.04)


def test_a_seed_and_a_graft_by_hand():
    # A seed: 1/600 h of sowing at 24, a cell of 0.1506/72 m² for 22 nights at 3 a week.
    # A graft: work 1/80 + 1/1500 + 1/3000 + 1/200 + 1/1000 h; a cell for 4 + 2 nights, a pot of
    # 0.1548/10 m² for 15.
    found = costs_of(nursery.splice(), PRICES, BOUGHT, nursery.POT_4, rootstock_nights=22, scion_nights=22)
    seed = 24 / 600 + 0.1506 / 72 * 22 / 7 * 3
    work = 24 * (1 / 80 + 1 / 1500 + 1 / 3000 + 1 / 200 + 1 / 1000)
    room = 3 / 7 * (0.1506 / 72 * 6 + 0.1548 / 10 * 15)
    assert found.rootstock_seed == pytest.approx(0.28 + seed)
    assert found.scion_seed == pytest.approx(0.10 + seed)
    assert found.graft == pytest.approx(0.04 + work + room)


def test_work_for_two_costs_two_and_handing_over_is_not_of_the_graft():
    side = nursery.side_graft()
    alone = replace(side, union=(replace(side.union[0], works=()), *side.union[1:]))
    both = costs_of(side, PRICES, BOUGHT, nursery.POT_4, 22, 22).graft
    assert both - costs_of(alone, PRICES, BOUGHT, nursery.POT_4, 22, 22).graft == pytest.approx(24 * 2 / 90)
    last = side.union[-1]
    handed = replace(last, works=(*last.works, WorkRule(HAND_OVER, (("crew", 10.0),))))
    with_hand_over = replace(side, union=(*side.union[:-1], handed))
    assert costs_of(with_hand_over, PRICES, BOUGHT, nursery.POT_4, 22, 22).graft == pytest.approx(both)


def test_dear_bench_saves_grafts_and_dear_seed_saves_seed():
    def sized(prices: Prices, bought: Bought):
        costs = costs_of(nursery.splice(), prices, bought, nursery.POT_4, 22, 22)
        asked = nursery.wish(200)
        return size_grafted(200, asked.rootstock, asked.scion, asked.recipe.take, asked.recipe.kept, 0.95, costs)

    bench, seed = sized(Prices(24.0, 60.0), Bought(0.0, 0.0)), sized(Prices(0.1, 0.1), Bought(0.4, 0.4))
    assert bench.grafts < seed.grafts
    assert bench.rootstock_seeds > seed.rootstock_seeds
    assert bench.scion_seeds > seed.scion_seeds


def test_no_prices_at_all_and_prices_below_nothing_are_refused():
    with pytest.raises(ValueError, match="rootstock_seed: a cost is above zero"):
        costs_of(nursery.splice(), Prices(), Bought(0.0, 0.1), nursery.POT_4, 22, 22)
    with pytest.raises(ValueError, match="scion_seed: a price is nought or more"):
        Bought(0.1, -0.1)
    with pytest.raises(ValueError, match="per_graft"):
        Bought(0.1, 0.1, float("nan"))
