"""Days in words, as every page and message of growing writes them, and what the referee says."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format

from .planning import terms
from .planning.check import Fault


def day_words(day: date) -> str:
    """'Tue 21 April'."""
    return date_format(day, "D j F")


def fault_words(fault: Fault, season: terms.Season) -> str:
    """'Stage length, Order 12, Bench A, Tue 21 April: healing lasts 9 nights, not 3 to 5.'"""
    where = [fault.rule.capitalize(), fault.line]
    where += [place.name for place in season.places if place.key == fault.place]
    where += [day_words(fault.day)] if fault.day else []
    return f"{', '.join(where)}: {fault.words}"
