"""Season and plan files on disk, and what is said of them: shared by the commands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from django.core.management import CommandError
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from .answers import conflict_sentence
from .planning.check import Fault
from .planning.level import Move
from .planning.season_file import BadFile, PlanFile, PlannedLine, SeasonFile, read_plan, read_season
from .planning.terms import Conflict, Season

UNREADABLE = 2  # exit code for a file that is no season or no plan; 1 is for what the referee finds


def season_at(path: Path) -> SeasonFile:
    """The season in a file. CommandError with all that is wrong in it."""
    try:
        return read_season(_text_at(path))
    except BadFile as bad:
        raise _unread(path, bad) from None


def plan_at(path: Path, season: SeasonFile) -> PlanFile:
    """The plan of this season in a file. CommandError with all that is wrong in it."""
    try:
        return read_plan(_text_at(path), season)
    except BadFile as bad:
        raise _unread(path, bad) from None


def write_at(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as trouble:
        said = _("%(path)s cannot be written: %(why)s.") % {"path": path, "why": trouble.strerror}
        raise CommandError(said, returncode=UNREADABLE) from None


def _text_at(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as trouble:
        said = _("%(path)s cannot be read: %(why)s.") % {"path": path, "why": trouble.strerror}
    except UnicodeDecodeError:
        said = _("%(path)s is no text in UTF-8. Save it as that.") % {"path": path}
    raise CommandError(said, returncode=UNREADABLE)


def _unread(path: Path, bad: BadFile) -> CommandError:
    head = _("%(path)s is not read; nothing is done.") % {"path": path}
    return CommandError("\n".join([head, *(f"  {fault}" for fault in bad.faults)]), returncode=UNREADABLE)


# --- what is said ------------------------------------------------------------------------------------------


def line_words(line: PlannedLine) -> Iterator[str]:
    """One line of a plan: what it gets, or why nothing."""
    label, answer = line.wish.label, line.answer
    if line.plan:
        yield _("%(line)s: fits, pickup %(day)s.") % {"line": label, "day": _day(line.plan.pickup)}
        return
    if answer is None:
        yield _("%(line)s: no plan.") % {"line": label}
        return
    why = str(answer.impossible) if answer.impossible else _("it does not fit.")
    yield _("%(line)s: %(why)s") % {"line": label, "why": why}
    yield from (f"  {conflict_sentence(conflict, line.wish.key)}" for conflict in answer.conflicts)
    days = [_day(day) for day in (answer.earlier, answer.later) if day]
    if days:
        yield "  " + _("It would fit on %(days)s.") % {"days": _(" or on ").join(days)}


def move_words(move: Move, labels: Mapping[str, str]) -> str:
    """'Order 31: Graft on Tue 17 March instead of Thu 19 March; pickup stays Mon 20 April. Needs …' in a line."""
    words = [f"{move.label}: {move.words}"]
    if move.tells:
        words.append(_("The customer must be told."))
    if move.needs:
        words.append(
            _("Needs the moves of: %(lines)s.") % {"lines": ", ".join(labels.get(key, key) for key in move.needs)}
        )
    return " ".join(words)


def fault_words(fault: Fault, season: Season) -> str:
    """'stage length: Order 12, part 1, Bench A, Tue 21 April 2027, 9: healing lasts 9 nights, not 3 to 5.'"""
    where = [fault.line]
    where += [_("part %(n)s") % {"n": fault.part}] if fault.part is not None else []
    where += [_place(fault.place, season)] if fault.place else []
    where += [_day(fault.day)] if fault.day else []
    where += [f"{fault.amount:g}"] if fault.amount is not None else []
    return f"{fault.rule}: {', '.join(where)}: {fault.words}"


def conflict_lines(conflicts: Iterable[Conflict]) -> Iterator[str]:
    return (conflict_sentence(conflict) for conflict in conflicts)


def _place(key: str, season: Season) -> str:
    return next((place.name for place in season.places if place.key == key), key)


def _day(day: object) -> str:
    return date_format(day, "D j F Y")  # type: ignore[arg-type]
