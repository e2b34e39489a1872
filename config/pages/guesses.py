"""What an empty nursery's country, money, units and time zone probably are; shown, and all to be chosen."""

from __future__ import annotations

import re
from pathlib import Path

from django.http import HttpRequest
from django.utils.translation import gettext as _

from orders import choices
from orders.models import Nursery

FAHRENHEIT = {"US", "BS", "BZ", "KY", "LR", "PW"}  # where weather is told in °F
INCHES = {"US", "LR"}
WITHOUT_REGION = {"de": "DE", "en": "", "fr": "FR", "es": "ES", "it": "IT", "nl": "NL", "pl": "PL", "pt": "PT"}


def guess_for(request: HttpRequest, nursery: Nursery) -> None:
    """Fill what nobody has chosen yet, from the browser's first language and the machine's time zone."""
    zone = machine_zone()
    country = country_of_browser(request.headers.get("Accept-Language", ""))
    country = country or choices.country_of_zone(zone) or nursery.country
    if not country:
        return
    nursery.country = country
    nursery.time_zone = zone or choices.time_zone_of(country) or nursery.time_zone
    nursery.currency = choices.currency_of(country) or nursery.currency
    nursery.first_weekday = choices.first_weekday_of(country)
    nursery.temperature_unit = "F" if country in FAHRENHEIT else "C"
    nursery.length_unit = "in" if country in INCHES else "cm"
    nursery.tax_name = _("Sales tax") if country == "US" else nursery.tax_name


def country_of_browser(accepted: str) -> str:
    """'en-IE,en;q=0.9' -> 'IE'; '' where the first language says nothing about a country."""
    first = accepted.split(",")[0].strip()
    found = re.fullmatch(r"([A-Za-z]{2,3})(?:-[A-Za-z]{4})?(?:-([A-Za-z]{2}))?(?:;.*)?", first)
    if not found:
        return ""
    language, region = found.groups()
    return region.upper() if region else WITHOUT_REGION.get(language.lower(), "")


def machine_zone(at: Path = Path("/etc/localtime")) -> str:
    """The time zone that this machine keeps, as 'Europe/Dublin'; '' where it keeps none of a place."""
    try:
        name = str(at.resolve()).partition("zoneinfo/")[2]
    except OSError:
        name = ""
    return name if choices.is_time_zone(name) and not name.startswith("Etc/") and "/" in name else ""
