"""`manage.py plan_season SEASON [--plan PLAN]`: answers the lines of a season file, and writes their plan."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand
from django.utils.translation import gettext as _

from production.files import conflict_lines, line_words, season_at, write_at
from production.planning.filed import plan_of
from production.planning.season_file import write_plan


class Command(BaseCommand):
    help = "Answers the lines of a season file one by one, in its order, and writes the plan. Touches no database."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("season", type=Path, metavar="SEASON", help="a season file")
        parser.add_argument("--plan", type=Path, metavar="PLAN", help="write the plan to this file")

    def handle(self, *args: Any, season: Path, plan: Path | None, **options: Any) -> None:
        made = plan_of(season_at(season))
        if plan:
            write_at(plan, write_plan(made))
        for line in made.lines:
            self.stdout.write("\n".join(line_words(line)))
        told = list(conflict_lines(made.conflicts))
        if told:
            self.stdout.write("\n".join([_("In conflict:"), *(f"  {each}" for each in told)]))
