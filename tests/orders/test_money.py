"""Money against hand-worked sums."""

from decimal import Decimal as D

import pytest

from orders.money import amount, line_amount, totals


def test_tax_is_reckoned_on_the_summed_net_of_a_rate():
    # EN 16931: BT-117 = BT-116 × BT-119 ÷ 100, two decimals; 183.37 at 7 % worked by hand: 12.8359 → 12.84.
    result = totals([(D("100.00"), D(7)), (D("83.37"), D(7))])
    assert (result.net, result.tax, result.gross) == (D("183.37"), D("12.84"), D("196.21"))


def test_two_rates_are_kept_apart():
    # By hand: 19.99 at 9 % = 1.7991 → 1.80; 5.05 at 23 % = 1.1615 → 1.16.
    result = totals([(D("19.99"), D(9)), (D("5.05"), D(23))])
    assert [(row.rate, row.tax) for row in result.rows] == [(D(9), D("1.80")), (D(23), D("1.16"))]
    assert result.gross == D("28.00")


def test_included_tax_is_taken_out_of_the_gross():
    # By hand: 109.00 with 9 % in it = 100.00 + 9.00.
    result = totals([(D("109.00"), D(9))], tax_included=True)
    assert (result.net, result.tax, result.gross) == (D("100.00"), D("9.00"), D("109.00"))


@pytest.mark.parametrize(("value", "rounded"), [("0.005", "0.01"), ("2.345", "2.35"), ("-2.345", "-2.35")])
def test_halves_round_away_from_zero(value: str, rounded: str):
    assert amount(D(value)) == D(rounded)


def test_unit_prices_have_four_places():
    assert line_amount(150, D("2.7505")) == D("412.58")  # by hand: 412.575
