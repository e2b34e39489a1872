"""Who gets what there is: by hand, by counting every case, and never more than there is."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from production.planning.allocation import RULES, Claim, divided, in_turn, line_outlooks
from production.planning.chances import at_least, distribution
from production.planning.terms import Rate

# The second was promised first but comes last; two come on one day.
CLAIMS = [
    Claim("a", 30, pickup=date(2026, 4, 20), promised=date(2026, 2, 3)),
    Claim("b", 50, pickup=date(2026, 4, 27), promised=date(2026, 2, 1)),
    Claim("c", 20, pickup=date(2026, 4, 20), promised=date(2026, 2, 2)),
]


@pytest.mark.parametrize(("rule", "first"), [("by_pickup", ["c", "a", "b"]), ("by_promise", ["b", "c", "a"])])
def test_who_comes_first(rule, first):
    assert [CLAIMS[at].key for at in in_turn(CLAIMS, rule)] == first


@pytest.mark.parametrize(
    ("rule", "plants", "got"),
    [
        # by hand
        ("by_pickup", 60, [30, 10, 20]),
        ("by_pickup", 15, [0, 0, 15]),
        ("by_promise", 60, [0, 50, 10]),
        ("pro_rata", 60, [18, 30, 12]),
        ("pro_rata", 61, [18, 31, 12]),  # 18.3, 30.5, 12.2: the odd plant goes to the second
        ("pro_rata", 99, [30, 49, 20]),  # 29.7, 49.5, 19.8: two odd plants, to the third and the first
        ("by_promise", 100, [30, 50, 20]),
        ("pro_rata", 140, [30, 50, 20]),
        ("by_pickup", 0, [0, 0, 0]),
    ],
)
def test_so_many_plants_are_divided(rule, plants, got):
    assert divided(np.array([plants]), CLAIMS, rule)[:, 0].tolist() == got


claims = st.lists(
    st.builds(
        Claim,
        st.text("xyz", max_size=2),
        st.integers(0, 60),
        st.dates(date(2026, 3, 1), date(2026, 3, 9)),
        st.dates(date(2026, 2, 1), date(2026, 2, 9)),
    ),
    min_size=1,
    max_size=6,
)


@given(claims, st.sampled_from(RULES))
def test_nothing_is_given_twice_or_left_lying(lines, rule):
    plants = np.arange(400)
    got = divided(plants, lines, rule)
    quantities = np.array([line.quantity for line in lines])
    assert (got >= 0).all()
    assert (got <= quantities[:, None]).all()
    assert (got.sum(axis=0) == np.minimum(plants, quantities.sum())).all()
    if rule != "pro_rata":  # there the odd plant may go elsewhere when there is one more
        assert (np.diff(got, axis=1) >= 0).all()
    else:
        share = np.minimum(plants, quantities.sum()) / max(quantities.sum(), 1)
        assert (np.abs(got - quantities[:, None] * share) < 1).all()


@pytest.mark.parametrize("rule", RULES)
def test_the_outlook_of_a_line_is_that_of_counting_every_case(rule):
    trials, rate = 118, Rate(0.85, 60)
    chances = distribution(trials, rate)
    found = line_outlooks(at_least(trials, rate), CLAIMS, rule)
    for at, line in enumerate(found):
        got = np.array([divided(np.array([k]), CLAIMS, rule)[at, 0] for k in range(trials + 1)])
        assert line.expected == pytest.approx(got @ chances)
        assert line.short == pytest.approx(chances[got < line.quantity].sum())
        by_number = [chances[got <= number].sum() for number in range(line.quantity + 1)]
        assert line.low == next(number for number, share in enumerate(by_number) if share >= 0.1 - 1e-12)
        assert line.high == next(number for number, share in enumerate(by_number) if share >= 0.9 - 1e-12)


def test_the_rule_moves_the_risk_and_not_the_plants():
    there = at_least(118, Rate(0.85, 60))
    by_rule = {rule: {line.key: line for line in line_outlooks(there, CLAIMS, rule)} for rule in RULES}
    sums = [sum(line.expected for line in lines.values()) for lines in by_rule.values()]
    assert sums == pytest.approx([sums[0]] * 3)
    assert by_rule["by_pickup"]["c"].short < 0.001 < by_rule["by_pickup"]["b"].short
    assert by_rule["by_promise"]["b"].short < 0.001 < by_rule["by_promise"]["a"].short


def test_an_unknown_rule_and_a_claim_below_nothing_are_refused():
    with pytest.raises(ValueError, match="a rule is one of by_pickup, by_promise, pro_rata"):
        divided(np.array([1]), CLAIMS, "by_lot")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="fewer than no plants"):
        divided(np.array([1]), [Claim("x", -1, date(2026, 4, 1), date(2026, 2, 1))], "pro_rata")
