"""`manage.py load_demo`: the demo nursery, its dates moved to today, in an empty database."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from config import demo
from orders.models import Nursery


class Command(BaseCommand):
    help = "Loads the demo nursery into an empty database, its dates moved to today."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--sign-ins", action="store_true", help="only print who can sign in")
        parser.add_argument("--quiet", action="store_true", help="do not print who can sign in")

    def handle(self, *args: Any, sign_ins: bool, quiet: bool, **options: Any) -> None:
        if not sign_ins:
            if Nursery.objects.exists():
                raise CommandError(_("There is a nursery here already; the demo needs an empty database."))
            demo.load(say=self.say_month)
            self.stdout.write("")
        if not quiet:
            self.stdout.write(demo.sign_ins())

    def say_month(self, day: date) -> None:
        """A word now and then, so that nobody thinks it hangs."""
        if day.day in (1, 15):
            self.stdout.write(f"  {date_format(day, 'j F')} …", ending="")
            self.stdout.flush()
