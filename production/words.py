"""Days and hands in words, as every page and message of growing writes them, and what the referee says."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

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
