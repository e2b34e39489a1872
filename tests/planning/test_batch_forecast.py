"""What a batch and its lines are to expect: one part exactly, several against scipy."""

from dataclasses import replace
from datetime import date
from math import inf

import numpy as np
import pytest
from scipy import stats

from production.planning.allocation import Claim
from production.planning.batch_forecast import SEASONS, Growing, Grown, batch_outlook
from production.planning.chances import combine
from production.planning.forecast import deliverable, outlook
from production.planning.sizing import size_grafted, size_plain
from production.planning.terms import Clock, Material, PartFacts, Rate, SowingFacts

CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)
ROOTSTOCK = Material("rootstock", "a rootstock", CLOCK, emerged=Rate(0.88, 80), usable=Rate(0.85, 80))
SCION = Material("scion", "a scion", CLOCK, emerged=Rate(0.95, 120), usable=Rate(0.92, 80))
TAKE, KEPT = Rate(0.9, 100), Rate(0.97, 100)
GROWN = Grown(SCION, KEPT, ROOTSTOCK, TAKE)
SIZING = size_grafted(60, ROOTSTOCK, SCION, TAKE, KEPT, 0.95)
ERROR = 4 * 0.5 / SEASONS**0.5  # four standard errors of a drawn chance


def claim(key: str, quantity: int, pickup_day: int = 20) -> Claim:
    return Claim(key, quantity, date(2026, 4, pickup_day), date(2026, 2, 1))


def growing(*claims: Claim, **facts: object) -> Growing:
    return Growing(PartFacts(**facts), SIZING, claims)  # type: ignore[arg-type]


def betabinom(trials: int, rate: Rate):
    return stats.betabinom(trials, rate.mean * rate.weight, (1 - rate.mean) * rate.weight)


STAGES = [
    PartFacts(),
    PartFacts(sowings=(SowingFacts("rootstock", seeds=90, emerged=70), SowingFacts("scion", seeds=80))),
    PartFacts(sowings=(SowingFacts("rootstock", usable=66), SowingFacts("scion", usable=70))),
    PartFacts(grafted=72),
    PartFacts(grafted=72, taken=64, lost_after_take=1),
    PartFacts(ready=58),
]


@pytest.mark.parametrize("facts", STAGES)
def test_the_distribution_of_a_part_has_the_figures_of_its_outlook(facts: PartFacts):
    there = deliverable(facts, SIZING, SCION, KEPT, ROOTSTOCK, TAKE)
    now = outlook(60, facts, SIZING, SCION, KEPT, ROOTSTOCK, TAKE)
    assert there[0] == pytest.approx(1.0)
    assert (np.diff(there) <= 1e-12).all()
    assert there[1:].sum() == pytest.approx(now.expected)
    assert (there[60] if there.size > 60 else 0.0) == pytest.approx(now.chance, abs=1e-8)


def test_once_grafted_the_distribution_is_a_beta_binomial():
    there = deliverable(PartFacts(grafted=1500), SIZING, SCION, KEPT, ROOTSTOCK, TAKE)
    reference = betabinom(1500, combine(TAKE, KEPT))
    assert there == pytest.approx(reference.sf(np.arange(there.size) - 1), abs=1e-4)


@pytest.mark.parametrize("rule", ["by_pickup", "by_promise", "pro_rata"])
def test_one_part_tells_its_lines_exactly(rule):
    found = batch_outlook([growing(claim("late", 25, 27), claim("early", 35, 20), grafted=70)], GROWN, rule)
    reference = betabinom(70, combine(TAKE, KEPT))
    short = {line.key: line.short for line in found.lines}
    assert found.whole.chance == pytest.approx(reference.sf(59))
    assert (found.whole.low, found.whole.high) == (reference.ppf(0.1), reference.ppf(0.9))
    if rule == "by_pickup":
        assert short == {
            "early": pytest.approx(reference.cdf(34), abs=1e-8),
            "late": pytest.approx(reference.cdf(59)),
        }
    assert sum(line.expected for line in found.lines) == pytest.approx(
        sum(min(k, 60) * reference.pmf(k) for k in range(71))
    )


@pytest.mark.parametrize("facts", STAGES[:4])
def test_drawn_seasons_agree_with_the_exact_part(facts: PartFacts):
    # A second part whose plants are counted ready adds nothing uncertain, but makes the batch be drawn.
    part, done = Growing(facts, SIZING, (claim("a", 60),)), growing(claim("b", 5), ready=5)
    exact, drawn = batch_outlook([part], GROWN, "by_pickup"), batch_outlook([part, done], GROWN, "by_pickup")
    assert drawn.whole.chance == pytest.approx(exact.whole.chance, abs=ERROR + 0.003)  # two Betas for one: 0.002
    assert drawn.whole.expected == pytest.approx(exact.whole.expected + 5, rel=0.003)
    assert abs(drawn.whole.low - exact.whole.low - 5) <= 1
    assert drawn.lines[1].short == 0.0


def test_parts_of_one_batch_do_well_or_badly_together():
    # Two parts of 40 grafts with one share are one part of 80, and not two that even out (scipy).
    grown = replace(GROWN, kept=Rate(1.0))
    found = batch_outlook(
        [growing(claim("a", 34), grafted=40), growing(claim("b", 34), grafted=40)], grown, "by_pickup"
    )
    one = betabinom(80, TAKE)
    assert found.whole.expected == pytest.approx(one.mean(), rel=0.002)
    assert (found.whole.low, found.whole.high) == (one.ppf(0.1), one.ppf(0.9))
    both = stats.beta(90, 10).expect(lambda share: stats.binom.sf(33, 40, share) ** 2)
    assert found.whole.chance == pytest.approx(both, abs=ERROR)
    assert both > betabinom(40, TAKE).sf(33) ** 2 + ERROR


def test_a_line_in_two_parts_is_told_once():
    parts = [growing(claim("a", 40), claim("b", 20, 27), ready=50), growing(claim("b", 30, 27), ready=40)]
    found = batch_outlook(parts, GROWN, "by_pickup")
    assert [(line.key, line.quantity, line.expected, line.short) for line in found.lines] == [
        ("a", 40, pytest.approx(40.0), 0.0),
        ("b", 50, pytest.approx(40.0), pytest.approx(1.0)),  # 10 of the first part, 30 of the second
    ]
    assert found.whole.chance == 0.0


def test_what_one_part_has_shown_is_expected_of_the_others():
    fresh = growing(claim("b", 50), grafted=60)
    good = batch_outlook([growing(claim("a", 50), grafted=60, taken=60), fresh], GROWN, "by_pickup")
    bad = batch_outlook([growing(claim("a", 50), grafted=60, taken=40), fresh], GROWN, "by_pickup")
    # By hand: 0.9 of 100 and 60 of 60 make 150 of 160, and 40 of 60 make 130 of 160; times 60 grafts, 0.97 kept.
    assert good.lines[1].expected < 60 * 150 / 160 * 0.97
    assert good.lines[1].expected > bad.lines[1].expected
    assert bad.lines[1].expected == pytest.approx(60 * 130 / 160 * 0.97, rel=0.03)


def test_a_plain_batch_has_one_side():
    sizing = size_plain(30, SCION, KEPT, 0.95)
    parts = [Growing(PartFacts(), sizing, (claim(key, 30),)) for key in "ab"]
    found = batch_outlook(parts, Grown(SCION, KEPT), "pro_rata")
    assert found.whole.expected == pytest.approx(2 * sizing.expected, rel=0.005)
    assert sizing.chance - 0.06 < found.whole.chance < sizing.chance


def test_the_same_counts_give_the_same_answer():
    parts = [growing(claim("a", 34), grafted=40), growing(claim("b", 34))]
    assert batch_outlook(parts, GROWN, "pro_rata") == batch_outlook(parts, GROWN, "pro_rata")


def test_a_batch_without_parts_is_refused():
    with pytest.raises(ValueError, match="a part at least"):
        batch_outlook([], GROWN, "by_pickup")


def test_known_shares_are_no_chance():
    sure = Material("sure", "", CLOCK, Rate(1.0), Rate(0.5, inf))
    grown = Grown(sure, Rate(1.0), sure, Rate(1.0))
    parts = [growing(claim("a", 10), grafted=10), growing(claim("b", 10), grafted=12)]
    assert batch_outlook(parts, grown, "by_pickup").whole.chance == 1.0
