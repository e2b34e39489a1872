"""`manage.py level_season SEASON [--plan PLAN]`: levels all lines of a season file together, told as moves."""

from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand
from django.utils.translation import gettext as _

from production.files import conflict_lines, move_words, season_at, write_at
from production.planning.filed import level_file
from production.planning.level import Effort, Levelled, Progress
from production.planning.season_file import write_plan
from production.queries.levelled import cost_words


def upto(most: int) -> Callable[[str], int]:
    """A whole number from 0 to `most`, as it is typed. ArgumentTypeError if it is none."""

    def read(text: str) -> int:
        if not text.isdecimal() or int(text) > most:
            raise ArgumentTypeError(f"{text} is no whole number from 0 to {most}.")
        return int(text)

    return read


class Command(BaseCommand):
    help = (
        "Levels a season file: no overload where that is possible, then as little lateness, then as few customers "
        "told another day as can be. The same file and rounds give the same answer. "
        "Touches no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("season", type=Path, metavar="SEASON", help="a season file")
        parser.add_argument("--plan", type=Path, metavar="PLAN", help="write the plan to this file")
        parser.add_argument("--rounds", type=upto(1_000_000), default=Effort().rounds, help="how long to search")
        parser.add_argument(
            "--late", type=upto(365), default=0, help="days by which a line that is only asked may be late"
        )

    def handle(self, *args: Any, season: Path, plan: Path | None, rounds: int, late: int, **options: Any) -> None:
        file = season_at(season)
        made, found = level_file(file, Effort(rounds=rounds), late, self._watch)
        if plan:
            write_at(plan, write_plan(made))
        labels = {key: wish.label for key, wish in file.wishes.items()}
        self.stdout.write("\n".join([*self._told(found, labels), *conflict_lines(made.conflicts)]))

    def _watch(self, progress: Progress) -> bool:
        if self.stderr.isatty():
            said = _("%(done)s of %(of)s rounds, %(cost)s") % {
                "done": progress.done, "of": progress.of, "cost": cost_words(progress.best),
            }  # fmt: skip
            self.stderr.write(f"\r{said}", ending="")
        return True

    def _told(self, found: Levelled, labels: dict[str, str]) -> list[str]:
        proved = _("Nothing better is possible.") if found.proved else ""
        told = [f"{cost_words(found.cost).capitalize()}. {proved}".strip()]
        told += [move_words(move, labels) for move in found.moves]
        if found.left_over:
            told.append(
                _("No room for: %(lines)s.") % {"lines": ", ".join(labels[key] for key in found.left_over)}
            )
        return told
