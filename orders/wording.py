"""How amounts and days are written: as the reader's language has them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from babel import Locale, UnknownLocaleError
from babel.numbers import format_currency, format_decimal
from django.utils.formats import date_format
from django.utils.translation import get_language, to_locale


def money(value: Decimal, currency: str) -> str:
    """'€1,234.50' in British English, '1.234,50 €' in German."""
    return format_currency(value, currency, locale=_locale())


def unit_price(value: Decimal, currency: str) -> str:
    """As money, with up to four places where the price has them: '€2.75', '€0.0825'."""
    places = max(2, -int(value.normalize().as_tuple().exponent))
    pattern = _locale().currency_formats["standard"].pattern.replace("0.00", "0." + "0" * places)
    return format_currency(value, currency, format=pattern, locale=_locale(), currency_digits=False)


def percent(value: Decimal) -> str:
    """'7 %', '13.5 %': a rate without needless zeros."""
    return f"{format_decimal(value, locale=_locale())} %"


def day(value: date) -> str:
    """'Wed 21 April 2027', for sentences that are kept and so need the year."""
    return date_format(value, "D j F Y")


def _locale() -> Locale:
    try:
        return Locale.parse(to_locale(get_language() or "en"))
    except (UnknownLocaleError, ValueError):
        return Locale("en")
