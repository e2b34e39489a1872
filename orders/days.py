"""Days in words, as letters and papers write them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _


def day_words(day: date, than: date | None = None) -> str:
    """'Tue 21 April', and 'Tue 21 April 2027' where the year differs from that of `than`."""
    return date_format(day, "D j F" if than is None or day.year == than.year else "D j F Y")


def run_words(first: date, last: date, than: date | None = None) -> str:
    """'Tue 20 to Thu 22 April', 'Thu 30 April to Sat 2 May', or the one day."""
    if first == last:
        return day_words(first, than)
    same_month = (first.year, first.month) == (last.year, last.month)
    start = date_format(first, "D j") if same_month else day_words(first, last)
    return _("%(first)s to %(last)s") % {"first": start, "last": day_words(last, than)}


def days_words(days: Collection[date], than: date | None = None) -> str:
    """These days and no other: 'Sat 6 March', 'Tue 20 to Wed 21 April and Fri 23 April'; '' for none."""
    *others, last = [run_words(first, last, than) for first, last in _runs(sorted(days))] or [""]
    return _("%(days)s and %(last)s") % {"days": ", ".join(others), "last": last} if others else last


def _runs(days: list[date]) -> Iterator[tuple[date, date]]:
    """First and last of each run of days without a gap."""
    first = before = None
    for day in days:
        if first is None or before is None:
            first = day
        elif day - before > timedelta(days=1):
            yield first, before
            first = day
        before = day
    if first and before:
        yield first, before
