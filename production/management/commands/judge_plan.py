"""`manage.py judge_plan SEASON PLAN`: what the referee says of a plan file."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand
from django.utils.translation import gettext as _

from production.files import conflict_lines, fault_words, plan_at, season_at
from production.planning.filed import judge_plan


class Command(BaseCommand):
    help = (
        "Judges a plan file beside the season it is for. Exit code 1 if the plan holds anything impossible (with "
        "--strict also for a conflict), 2 if a file cannot be read. Touches no database."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("season", type=Path, metavar="SEASON", help="a season file")
        parser.add_argument("plan", type=Path, metavar="PLAN", help="a plan file for that season")
        parser.add_argument("--strict", action="store_true", help="let a conflict fail as well")

    def handle(self, *args: Any, season: Path, plan: Path, strict: bool, **options: Any) -> None:
        file = season_at(season)
        verdict = judge_plan(file, plan_at(plan, file))
        self._tell(_("Impossible:"), [fault_words(fault, file.season) for fault in verdict.faults])
        self._tell(_("In conflict:"), list(conflict_lines(verdict.conflicts)))
        if not verdict.faults:
            self.stdout.write(_("Nothing in this plan is impossible."))
        if verdict.faults or (strict and verdict.conflicts):
            sys.exit(1)

    def _tell(self, head: str, told: list[str]) -> None:
        if told:
            self.stdout.write("\n".join([head, *(f"  {each}" for each in told)]))
