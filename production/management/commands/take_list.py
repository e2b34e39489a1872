"""`manage.py take_list FILE [--promise] [--keep-others] [--by NAME]`: checks a list of orders, and takes it."""

from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.db import connection
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orders.models import User
from orders.refusals import ManyRefused, Refused
from production.models import OrderList
from production.order_list.columns import BY_KEY
from production.queries.order_lists import Found
from production.services import list_taking, order_lists

UNREADABLE = 2  # exit code for a file that is no list; 1 says that rows are to be mended or orders do not fit


class Command(BaseCommand):
    help = (
        "Checks a list of orders (CSV or .xlsx): every fault by row and column, and what fits. Stores no order "
        "unless --promise is said. Exits with 1 where something is to mend or does not fit, 2 if it is no list."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")
        parser.add_argument("--promise", action="store_true", help="promise the orders that fit")
        parser.add_argument(
            "--keep-others", action="store_true", help="keep good orders that do not fit as asked; with --promise"
        )
        parser.add_argument("--by", default="", metavar="NAME", help="who takes them: a name that signs in")

    def handle(
        self, *args: Any, file: Path, promise: bool, keep_others: bool, by: str, **options: Any
    ) -> str | None:
        if keep_others and not promise:
            raise CommandError(_("--keep-others goes with --promise."), returncode=UNREADABLE)
        self._refuse_without_a_nursery()
        user = self._user(by)
        kept = self._kept(file, user)
        order_lists.check_now({"list": kept.pk})
        kept.refresh_from_db()
        self.stdout.write("\n".join(_fault_lines(kept)))
        if promise:
            others = OrderList.Others.KEEP if keep_others else OrderList.Others.LEAVE
            try:
                kept = list_taking.take_at_once(kept, by=user, others=others)
            except Refused as refused:
                raise CommandError(str(refused), returncode=1) from None
        self.stdout.write("\n".join(_order_lines(kept)))
        if Found.of(kept).to_mend:
            raise SystemExit(1)
        return None

    def _refuse_without_a_nursery(self) -> None:
        if User._meta.db_table not in connection.introspection.table_names():
            said = _(
                "There is no nursery in this folder yet. Start it once with ./run serve, or name the folder of "
                "its data, as GRAFTWRIGHT_DATA=.data/demo for the demo's."
            )
            raise CommandError(said, returncode=UNREADABLE)

    def _user(self, name: str) -> User | None:
        found = User.objects.filter(username=name, is_active=True).first()
        if name and found is None:
            raise CommandError(_("Nobody signs in as %(name)s.") % {"name": name}, returncode=UNREADABLE)
        return found

    def _kept(self, file: Path, user: User | None) -> OrderList:
        try:
            return order_lists.keep(name=file.name, content=file.read_bytes(), by=user)
        except OSError as trouble:
            said = _("%(path)s cannot be read: %(why)s.") % {"path": file, "why": trouble.strerror}
            raise CommandError(said, returncode=UNREADABLE) from None
        except Refused as refused:
            each = refused.refusals if isinstance(refused, ManyRefused) else [refused]
            said = "\n".join(f"  {fault.field}: {fault}" for fault in each)
            head = _("%(path)s is not read; nothing is done.") % {"path": file}
            raise CommandError(f"{head}\n{said}", returncode=UNREADABLE) from None


def _fault_lines(kept: OrderList) -> Iterator[str]:
    for fault in kept.faults:
        column = f", {BY_KEY[fault['column']].word}" if fault["column"] in BY_KEY else ""
        yield _("Row %(n)s%(column)s: %(reason)s %(mend)s") % {**fault, "n": fault["row"], "column": column}


def _order_lines(kept: OrderList) -> Iterator[str]:
    for line in (*(found := Found.of(kept)).promised, *found.others):
        row = _("Row %(n)s") % {"n": line["row"]}
        pickup = _("pickup %(day)s") % {"day": date_format(line["pickup"], "D j F Y")} if line["pickup"] else ""
        code = _("Order %(code)s") % {"code": line["order"]} if line["order"] else ""
        yield ", ".join(filter(None, (f"{row}: {line['label']}", code, pickup, line["says"])))
    counts = ", ".join(f"{OrderList.Outcome(each).label}: {n}" for each, n in found.counts.items() if n)
    yield _("Orders %(counts)s.") % {"counts": counts}
