"""`manage.py load_demo`: the demo nursery, its dates moved to today, in an empty database."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.translation import gettext as _

from config import demo
from orders.models import Nursery


class Command(BaseCommand):
    help = "Loads the demo nursery into an empty database, its dates moved to today."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--sign-ins", action="store_true", help="only print who can sign in")

    def handle(self, *args: Any, sign_ins: bool, **options: Any) -> None:
        if not sign_ins:
            if Nursery.objects.exists():
                raise CommandError(_("There is a nursery here already; the demo needs an empty database."))
            demo.load()
        self.stdout.write(demo.sign_ins())
