"""Days, hands and conflicts in words, as every page and message of growing writes them; what the referee says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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


def hands_words(asks: Sequence[Ask]) -> str:
    """'Hands for grafting, potting and care, or sowing'; where all is wanted in one part: '… in the evening'."""
    together = part_of(asks)
    names = [_skill_words(skill, part if together == ANY_TIME else ANY_TIME) for skill, part in asks]
    if together == ANY_TIME:
        return _("Hands for %(work)s") % {"work": one_of(names)}
    return _("Hands for %(work)s in the %(part)s") % {"work": one_of(names), "part": part_words(together)}


def _skill_words(skill: str, part: terms.PartOfDay) -> str:
    """The nursery's own word within a sentence: 'potting and care', 'CO2 dosing'; 'cutting (evening)'."""
    word = skill[:1].lower() + skill[1:] if skill[1:2].islower() else skill
    return word if part == ANY_TIME else f"{word} ({part_words(part)})"


def one_of(names: Sequence[str]) -> str:
    """'grafting or sowing'; 'grafting, or potting and care': a comma where a name itself joins two."""
    *first, last = names
    if not first:
        return last
    joint = _(", or ") if len(names) > 2 or any(_(" and ") in name for name in names) else _(" or ")
    return joint.join([", ".join(first), last])


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
        words = _("%(name)s, %(days)s: %(asked)s hours wanted, %(there)s there.")
        if asked == "1":
            words = _("%(name)s, %(days)s: 1 hour wanted, %(there)s there.")
        return words % {
            "name": what_lacks(conflict),
            "days": days,
            "asked": asked,
            "there": there,
        }
    unit = room_unit(conflict.unit, conflict.peak)
    words = ngettext(
        "%(name)s, night of %(days)s: %(asked)s %(unit)s wanted, %(there)s there.",
        "%(name)s, nights of %(days)s: %(asked)s %(unit)s wanted, %(there)s there.",
        (conflict.last - conflict.first).days + 1,
    )
    return words % {"name": conflict.name, "days": days, "asked": asked, "unit": unit, "there": there}


@dataclass(frozen=True, slots=True)
class Eased:
    """What a change makes of the conflicts: in one sentence, and of each place and set of hands."""

    helps: bool  # something becomes less, and nothing more
    verdict: str
    each: tuple[str, ...]


def eased(before: Sequence[terms.Conflict], after: Sequence[terms.Conflict]) -> Eased:
    """'Healing chamber: 3 nights instead of 6, at most 1 tray place too many instead of 4.'"""
    now, then = _by_resource(before), _by_resource(after)
    sizes = [(_size(now.get(key, ())), _size(then.get(key, ()))) for key in {**now, **then}]
    less = any(nights < was[0] or over < was[1] for was, (nights, over) in sizes)
    more = any(nights > was[0] or over > was[1] for was, (nights, over) in sizes)
    new = [conflict for key, several in then.items() if key not in now for conflict in several]
    each = [_change(several, then.get(key, ())) for key, several in now.items()]
    each += [_("New: %(conflict)s") % {"conflict": conflict_words(conflict)} for conflict in new]
    return Eased(less and not more, _verdict(less, more, bool(after)), tuple(each))


def _verdict(less: bool, more: bool, left: bool) -> str:
    if less and more:
        return _("It eases one conflict and adds to another.")
    if more:
        return _("It adds to the conflicts.")
    if less:
        return _("It eases the conflicts.") if left else _("No conflict is left.")
    return _("It eases no conflict.") if left else _("There is no conflict, now or then.")


def _by_resource(conflicts: Sequence[terms.Conflict]) -> dict[tuple[str, str], list[terms.Conflict]]:
    found: dict[tuple[str, str], list[terms.Conflict]] = {}
    for conflict in conflicts:
        found.setdefault((conflict.resource, conflict.key), []).append(conflict)
    return found


def _size(conflicts: Sequence[terms.Conflict]) -> tuple[int, float]:
    """Nights or days in all, and the most that is too much on any one of them, to a tenth."""
    days = sum((each.last - each.first).days + 1 for each in conflicts)
    return days, round(max((each.peak - each.there for each in conflicts), default=0), 1)


def _change(now: Sequence[terms.Conflict], then: Sequence[terms.Conflict]) -> str:
    first, (days, over), (days_then, over_then) = now[0], _size(now), _size(then)
    if not then:
        return _("%(name)s: no conflict any more.") % {"name": what_lacks(first)}
    if (days, over) == (days_then, over_then):
        return _("%(name)s: as now.") % {"name": what_lacks(first)}
    if first.resource == "hands":
        span = ngettext("%(n)s day", "%(n)s days", days_then) % {"n": days_then}
    else:
        span = ngettext("%(n)s night", "%(n)s nights", days_then) % {"n": days_then}
    unit = {"hours": _(" h"), "m²": _(" m²"), "area": _(" m²")}.get(first.unit, "")
    words = _("%(name)s: %(span)s instead of %(days)s, at most %(then)s%(unit)s too many instead of %(over)s.")
    return words % {
        "name": what_lacks(first),
        "span": span,
        "days": days,
        "then": _number(over_then),
        "unit": unit,
        "over": _number(over),
    }


def room_unit(measure: str, amount: float) -> str:
    """'tray place' of one, else 'tray places'; 'm²' of any."""
    if measure in ("m²", "area"):
        return _("m²")
    return _("tray place") if amount == 1 else _("tray places")


def _number(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def days_words(first: date, last: date) -> str:
    if first == last:
        return date_format(first, "j F")
    if (first.year, first.month) == (last.year, last.month):
        return _("%(first)s to %(last)s") % {"first": first.day, "last": date_format(last, "j F")}
    return _("%(first)s to %(last)s") % {"first": date_format(first, "j F"), "last": date_format(last, "j F")}
