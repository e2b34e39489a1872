"""Amounts as people write them. Expected forms follow CLDR's currency patterns, worked out by hand."""

from decimal import Decimal as D

import pytest
from django.utils import translation

from orders import wording


@pytest.mark.parametrize(
    ("language", "shown"), [("en-gb", "€1,234.50"), ("de", "1.234,50\u00a0€"), ("xx", "€1,234.50")]
)
def test_money_is_written_as_the_language_has_it(language, shown):
    with translation.override(language):
        assert wording.money(D("1234.5"), "EUR") == shown


@pytest.mark.parametrize(
    ("price", "shown"),
    [("2.7500", "€2.75"), ("3", "€3.00"), ("0.0825", "€0.0825"), ("10", "€10.00"), ("0", "€0.00")],
)
def test_a_unit_price_shows_the_places_it_has(price, shown):
    with translation.override("en-gb"):
        assert wording.unit_price(D(price), "EUR") == shown


def test_a_rate_has_no_needless_zeros():
    with translation.override("en-gb"):
        assert [wording.percent(D(rate)) for rate in ("7.00", "13.50", "0")] == ["7 %", "13.5 %", "0 %"]
