"""Lists to choose from that the world keeps: countries, currencies, time zones. Names come from Unicode's CLDR."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from zoneinfo import available_timezones

from babel import Locale, UnknownLocaleError
from babel.core import get_global
from babel.numbers import get_territory_currencies

Choices = list[tuple[str, str]]


def is_time_zone(name: str) -> bool:
    return name in available_timezones()


@lru_cache(maxsize=8)
def countries(language: str = "en") -> Choices:
    """Codes of two letters and names, by name."""
    names = Locale.parse(language.split("-")[0]).territories
    lived_in = get_global("territory_zones")
    return sorted(((str(code), names[code]) for code in names if code in lived_in), key=lambda each: each[1])


@lru_cache(maxsize=8)
def currencies(language: str = "en") -> Choices:
    """The money that is in use today somewhere: codes of three letters and names, by name."""
    names = Locale.parse(language.split("-")[0]).currencies
    in_use = {currency_of(code) for code, _name in countries(language)} - {""}
    return sorted(((code, f"{names.get(code, code)} ({code})") for code in in_use), key=lambda each: each[1])


@lru_cache(maxsize=300)
def currency_of(country: str) -> str:
    """The currency of a country today; '' where none is known."""
    found = get_territory_currencies(country, start_date=datetime.now(UTC).date())
    return found[0] if found else ""


@lru_cache(maxsize=1)
def time_zones() -> Choices:
    """Those of places people live in, as 'Europe/Dublin'."""
    lived_in = get_global("zone_territories")
    names = sorted(name for name in available_timezones() if "/" in name and name in lived_in)
    return [("UTC", "UTC"), *((name, name.replace("_", " ")) for name in names)]


# Where a country has several, the one most of its people live by.
MAIN_ZONES = {
    "AR": "America/Argentina/Buenos_Aires",
    "AU": "Australia/Sydney",
    "BR": "America/Sao_Paulo",
    "CA": "America/Toronto",
    "CL": "America/Santiago",
    "CN": "Asia/Shanghai",
    "ES": "Europe/Madrid",
    "ID": "Asia/Jakarta",
    "MX": "America/Mexico_City",
    "NZ": "Pacific/Auckland",
    "PT": "Europe/Lisbon",
    "RU": "Europe/Moscow",
    "UA": "Europe/Kiev",
    "US": "America/New_York",
}


def time_zone_of(country: str) -> str:
    """The time zone of a country's most people, or the first of those it has; '' where none is known."""
    zones = [MAIN_ZONES.get(country, ""), *get_global("territory_zones").get(country, [])]
    return next((zone for zone in zones if zone in available_timezones()), "")


def country_of_zone(zone: str) -> str:
    """The country in which most live by this time zone; '' where none is known."""
    country: str = get_global("zone_territories").get(zone, "")
    return country


def first_weekday_of(country: str) -> int:
    """The day that calendars begin with there, Monday 0."""
    try:
        return Locale.parse(f"und_{country}").first_week_day
    except (UnknownLocaleError, ValueError):
        return 0
