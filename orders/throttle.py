"""A brake on pages that need no sign-in: so many requests a minute and key, counted in Django's cache.

Each serving process counts by itself, which is enough: tokens cannot be guessed, only the machine be kept busy.
"""

from __future__ import annotations

from django.core.cache import cache

MINUTE = 60


def too_many(key: str, most: int) -> bool:
    """Count one more; whether there were more than `most` in this minute."""
    name = f"throttle:{key}"
    if cache.add(name, 1, MINUTE):
        return False
    try:
        return cache.incr(name) > most
    except ValueError:  # the minute ended between the two
        return False
