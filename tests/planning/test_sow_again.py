"""How much to sow again: enough, and one seed less is not; and the last day for it, by hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from production.planning.forecast import outlook
from production.planning.sizing import size_grafted, size_plain
from production.planning.sow_again import Ground, sow_again
from production.planning.terms import Calendar, Clock, Material, PartFacts, Rate, SowingFacts, Subject, Warmth

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.88, 80), usable=Rate(0.85, 80))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)
SIZING = size_grafted(60, ROOTSTOCK, SCION, TAKE, KEPT, 0.95)
GRAFT_DAY = date(2026, 4, 20)
GROUND = Ground(GRAFT_DAY, Warmth(20.0), Warmth(20.0), Calendar(frozenset(range(7))))
GROUNDS: dict[Subject, Ground] = {"rootstock": GROUND, "scion": GROUND}


def again(facts: PartFacts, level: float = 0.95, grounds: dict[Subject, Ground] = GROUNDS):
    return sow_again(60, level, facts, SIZING, grounds, SCION, KEPT, ROOTSTOCK, TAKE)


def chance(facts: PartFacts) -> float:
    return outlook(60, facts, SIZING, SCION, KEPT, ROOTSTOCK, TAKE).chance


def short_of_rootstock(emerged: int = 60) -> PartFacts:
    sowings = (
        SowingFacts("rootstock", seeds=SIZING.rootstock_seeds, emerged=emerged),
        SowingFacts("scion", seeds=SIZING.scion_seeds),
    )
    return PartFacts(sowings=sowings)


def test_so_many_seeds_are_enough_and_one_less_is_not():
    facts = short_of_rootstock()
    rootstock, scion = again(facts, 0.9)
    assert rootstock.before == pytest.approx(chance(facts))
    assert rootstock.reached

    def with_more(seeds: int) -> float:
        return chance(replace(facts, sowings=(*facts.sowings, SowingFacts("rootstock", seeds=seeds))))

    assert with_more(rootstock.seeds) == pytest.approx(rootstock.chance)
    assert with_more(rootstock.seeds) >= 0.9 > with_more(rootstock.seeds - 1)
    # The scion is not what is short: none of its seed would do.
    assert not scion.reached
    assert scion.chance < 0.3


def test_where_both_sides_are_short_both_are_sown_again():
    facts = PartFacts(
        sowings=(
            SowingFacts("rootstock", seeds=SIZING.rootstock_seeds, emerged=40),
            SowingFacts("scion", seeds=SIZING.scion_seeds, emerged=40),
        )
    )
    rootstock, scion = again(facts, 0.9)
    assert rootstock.reached
    assert rootstock.together
    assert scion.together
    assert min(rootstock.seeds, scion.seeds) > 0

    def with_more(less: int) -> float:
        more = (("rootstock", rootstock.seeds - less), ("scion", scion.seeds - less))
        sowings = tuple(SowingFacts(subject, seeds=seeds) for subject, seeds in more)
        return chance(replace(facts, sowings=facts.sowings + sowings))

    assert with_more(0) == pytest.approx(rootstock.chance)
    assert with_more(0) >= 0.9 > with_more(1)


def test_the_last_day_is_that_of_the_clock():
    # Emergence at 20 °C on day 8, growth of 12 a night, fit from 200: day 25 after sowing (by hand).
    rootstock, _ = again(short_of_rootstock(), 0.9)
    assert rootstock.by == GRAFT_DAY - timedelta(days=25)
    cold: dict[Subject, Ground] = {"rootstock": replace(GROUND, raising_warmth=Warmth(5.0))}
    (too_cold,) = again(short_of_rootstock(), 0.9, cold)
    assert too_cold.by is None


def test_nothing_is_sown_again_where_it_is_enough_or_too_late():
    assert again(PartFacts(), SIZING.chance - 0.01) == ()
    assert again(PartFacts(grafted=40)) == ()
    assert again(PartFacts(taken=40)) == ()
    assert again(PartFacts(ready=40)) == ()


def test_seed_of_which_no_number_is_known_yet_still_counts_as_planned():
    facts = PartFacts(sowings=(SowingFacts("rootstock", sown=date(2026, 3, 2)), SowingFacts("scion", usable=500)))
    rootstock, _ = again(facts, 0.97)
    explicit = PartFacts(
        sowings=(SowingFacts("rootstock", seeds=SIZING.rootstock_seeds), SowingFacts("scion", usable=500))
    )
    assert again(explicit, 0.97)[0] == rootstock
    assert rootstock.before == pytest.approx(chance(explicit))


def test_a_plain_line_sows_its_one_side_again():
    sizing = size_plain(50, SCION, KEPT, 0.95)
    facts = PartFacts(sowings=(SowingFacts("plain", seeds=sizing.scion_seeds, emerged=45),))
    (found,) = sow_again(50, 0.95, facts, sizing, {"plain": GROUND}, SCION, KEPT)
    assert found.reached
    more = replace(facts, sowings=(*facts.sowings, SowingFacts("plain", seeds=found.seeds)))
    assert outlook(50, more, sizing, SCION, KEPT).chance >= 0.95 > found.before
