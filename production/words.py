"""Days in words, as every page and message of growing writes them."""

from __future__ import annotations

from datetime import date

from django.utils.formats import date_format


def day_words(day: date) -> str:
    """'Tue 21 April'."""
    return date_format(day, "D j F")
