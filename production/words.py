"""Days, hands and conflicts in words, as every page and message of growing writes them; what the referee says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from .planning import terms
from .planning.check import Fault
from .planning.hands import ANY_TIME, Ask, asks_of, part_of


def day_words(day: date) -> str:
    """'Tue 21 April'."""
    return date_format(day, "D j F")


def fault_words(fault: Fault, season: terms.Season) -> str:
    """'Stage length, Order 12, Bench A, Tue 21 April: healing lasts 9 nights, not 3 to 5.'"""
    where = [fault.rule.capitalize(), fault.line]
    where += [place.name for place in season.places if place.key == fault.place]
    where += [day_words(fault.day)] if fault.day else []
    return f"{', '.join(where)}: {fault.words}"


def hands_words(asks: Sequence[Ask], joint: str = ", ") -> str:
    """'graft, pot'; 'cut, evening' where all is wanted in that part of the day; else 'cut (evening), sow'."""
    if part_of(asks) != ANY_TIME:
        return f"{joint.join(skill for skill, _part in asks)}, {part_words(part_of(asks))}"
    return joint.join(skill if part == ANY_TIME else f"{skill} ({part_words(part)})" for skill, part in asks)


def part_words(part: terms.PartOfDay) -> str:
    return {"morning": _("morning"), "day": _("day"), "evening": _("evening")}[part]


def what_lacks(conflict: terms.Conflict) -> str:
    """The place, or the hands, that a conflict is about."""
    return hands_words(sorted(asks_of(conflict.key))) if conflict.resource == "hands" else conflict.name


def conflict_words(conflict: terms.Conflict) -> str:
    """'Healing chamber, nights of 6 and 7 April: 4 wanted, 1 free…' as a sentence."""
    days = days_words(conflict.first, conflict.last)
    asked, there = _number(conflict.peak), _number(conflict.there)
    if conflict.resource == "hands":
        return _("%(name)s, %(days)s: %(asked)s hours wanted, %(there)s there.") % {
            "name": conflict.name if conflict.part != "day" else what_lacks(conflict),
            "days": days if conflict.part == "day" else f"{days}, {part_words(conflict.part)}",
            "asked": asked,
            "there": there,
        }
    unit = _("m²") if conflict.unit in ("m²", "area") else _("tray places")
    words = ngettext(
        "%(name)s, night of %(days)s: %(asked)s %(unit)s wanted, %(there)s there.",
        "%(name)s, nights of %(days)s: %(asked)s %(unit)s wanted, %(there)s there.",
        (conflict.last - conflict.first).days + 1,
    )
    return words % {"name": conflict.name, "days": days, "asked": asked, "unit": unit, "there": there}


def _number(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def days_words(first: date, last: date) -> str:
    if first == last:
        return date_format(first, "j F")
    if (first.year, first.month) == (last.year, last.month):
        return _("%(first)s to %(last)s") % {"first": first.day, "last": date_format(last, "j F")}
    return _("%(first)s to %(last)s") % {"first": date_format(first, "j F"), "last": date_format(last, "j F")}
