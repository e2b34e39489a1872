"""What a seed and a graft cost, by hand."""

from dataclasses import replace
from itertools import pairwise
from math import ceil

import pytest

from production.planning.costs import Bought, costs_for, costs_of
from production.planning.course import course_of
from production.planning.least_cost import USUAL
from production.planning.promise import promise
from production.planning.sizing import size_at_least_cost, size_grafted
from production.planning.spending import spent_on
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


# --- what the planner sizes by -------------------------------------------------------------------------------

SEASON = nursery.season()


def priced(quantity: int, rootstock: float | None, scion: float | None):
    asked = nursery.wish(quantity)
    return replace(
        asked,
        rootstock=replace(asked.rootstock, seed_price=rootstock),
        scion=replace(asked.scion, seed_price=scion),
    )


def sized(wish, prices: Prices = PRICES):
    return course_of(wish, wish.quantity, SEASON.places, prices).sizing


def test_without_a_price_of_seed_the_usual_proportions_hold():
    assert costs_for(priced(100, None, 0.1), PRICES, SEASON.places) == USUAL
    assert sized(priced(100, None, None)) == sized(nursery.wish(100))


def test_with_prices_a_side_takes_the_nights_of_its_clock_in_its_cell():
    """TOMATO by hand: emergence sum and best graft sum over the degrees of the germination chamber and bench."""
    wish = priced(100, 0.28, 0.10)
    found = costs_for(wish, PRICES, SEASON.places)
    warm = {kind: p.warmth.usual for p in SEASON.places for kind in p.kinds}
    clock = wish.scion.clock
    nights = clock.emergence_sum / (warm["germination"] - clock.emergence_base) + clock.graftable_aim / (
        min(warm["bench"], clock.growth_ceiling) - clock.growth_base
    )
    cell = 0.1506 / 72 * ceil(nights) / 7 * 3
    assert found.scion_seed == pytest.approx(0.10 + 24 / 600 + cell)


def test_the_dearer_seed_is_spared_and_the_service_level_is_kept():
    dear_rootstock, dear_scion = sized(priced(200, 0.60, 0.05)), sized(priced(200, 0.05, 0.60))
    assert dear_rootstock.rootstock_seeds < dear_scion.rootstock_seeds
    assert dear_rootstock.scion_seeds > dear_scion.scion_seeds
    assert min(dear_rootstock.chance, dear_scion.chance) >= 0.95


@pytest.mark.parametrize(("rootstock", "scion"), [(0.60, 0.05), (0.05, 0.60), (0.3, 0.3), (0.0, 0.2)])
def test_sized_by_its_prices_a_line_costs_no_more_than_by_the_usual_ones(rootstock, scion):
    """Near the least: within 2.5 % of the cheapest mix, and not dearer than without prices (DEVELOPERS.md)."""
    wish = priced(200, rootstock, scion)
    costs = costs_for(wish, PRICES, SEASON.places)
    grown = (wish.rootstock, wish.scion, wish.recipe.take, wish.recipe.kept)
    by_price, usual = sized(wish), sized(nursery.wish(200))
    spent = costs.of(by_price.grafts, by_price.rootstock_seeds, by_price.scion_seeds)
    assert spent <= 1.025 * size_at_least_cost(200, *grown, 0.95, costs).cost
    assert spent <= costs.of(usual.grafts, usual.rootstock_seeds, usual.scion_seeds) * 1.001


def test_a_plan_never_shrinks_because_an_order_grew():
    sizes = [sized(priced(quantity, 0.4, 0.1)) for quantity in range(20, 60)]
    for less, more in pairwise(sizes):
        assert more.grafts >= less.grafts
        assert (more.rootstock_seeds, more.scion_seeds) >= (less.rootstock_seeds, less.scion_seeds)


def test_seed_that_costs_nothing_beside_work_without_a_price_falls_back_to_the_usual():
    assert costs_for(priced(100, 0.0, 0.0), Prices(), SEASON.places) == USUAL


def test_a_plan_costs_its_seed_too():
    (dear,) = promise(SEASON, [priced(60, 0.5, 0.2)])
    spent = spent_on(dear.plan.wish, dear.plan.parts, SEASON.prices)
    seeds = dear.plan.parts[0].sizing
    assert spent.seed == pytest.approx(0.5 * seeds.rootstock_seeds + 0.2 * seeds.scion_seeds)
    assert dear.plan.cost == pytest.approx(spent.work + spent.room + spent.seed)
    (unknown,) = promise(SEASON, [priced(60, None, 0.2)])
    assert not spent_on(unknown.plan.wish, unknown.plan.parts, SEASON.prices).seed_known
