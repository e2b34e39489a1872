"""Days in words, as letters and papers write them."""

from datetime import date

import pytest

from orders.days import days_words

MARCH, APRIL = (lambda day: date(2027, 3, day)), (lambda day: date(2027, 4, day))


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ([], ""),
        ([MARCH(6)], "Sat 6 March"),
        ([MARCH(8), MARCH(9), MARCH(10)], "Mon 8 to Wed 10 March"),
        ([MARCH(31), APRIL(1)], "Wed 31 March to Thu 1 April"),
        ([MARCH(6), MARCH(8)], "Sat 6 March and Mon 8 March"),
        (
            [MARCH(8), MARCH(4), MARCH(5), MARCH(10), MARCH(11)],
            "Thu 4 to Fri 5 March, Mon 8 March and Wed 10 to Thu 11 March",
        ),
    ],
)
def test_only_these_days_are_named(days, words):
    assert days_words(days, date(2027, 1, 11)) == words


def test_the_year_stands_where_it_is_another():
    assert (
        days_words([date(2028, 1, 3), date(2028, 1, 5)], MARCH(6)) == "Mon 3 January 2028 and Wed 5 January 2028"
    )
