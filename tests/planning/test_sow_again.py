"""How much to sow again: enough, and one seed less is not."""

from dataclasses import replace
from datetime import date

import pytest

from production.planning.forecast import outlook
from production.planning.sizing import size_grafted, size_plain
from production.planning.sow_again import LastDays, sow_again
from production.planning.terms import Clock, Material, PartFacts, Rate, SowingFacts

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.88, 80), usable=Rate(0.85, 80))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)
SIZING = size_grafted(60, ROOTSTOCK, SCION, TAKE, KEPT, 0.95)
LAST_DAYS: LastDays = {"rootstock": date(2026, 3, 26), "scion": date(2026, 3, 30)}


def again(facts: PartFacts, level: float = 0.95):
    return sow_again(60, level, facts, SIZING, LAST_DAYS, SCION, KEPT, ROOTSTOCK, TAKE)


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
    assert (rootstock.by, scion.by) == (LAST_DAYS["rootstock"], LAST_DAYS["scion"])

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
    (found,) = sow_again(50, 0.95, facts, sizing, {"plain": None}, SCION, KEPT)
    assert found.reached
    more = replace(facts, sowings=(*facts.sowings, SowingFacts("plain", seeds=found.seeds)))
    assert outlook(50, more, sizing, SCION, KEPT).chance >= 0.95 > found.before
