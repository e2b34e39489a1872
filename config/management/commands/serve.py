"""`manage.py serve`: bring the database up to date, load the demo if asked for, and serve. Called by `./run`."""

import errno
import os
import socket
import sys
from argparse import ArgumentParser
from io import StringIO
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import BaseCommand, CommandError, call_command
from django.utils.translation import gettext as _


class Command(BaseCommand):
    help = "Brings the database up to date and serves Graftwright on this machine."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets the local network in")
        parser.add_argument("--fresh", action="store_true", help="begin the demo nursery anew")

    def handle(self, *args: Any, port: int, host: str, fresh: bool, **options: Any) -> None:
        refuse_taken_port(host, port)
        address = f"http://{'localhost' if host in LOCAL else own_address(host)}:{port}"
        if "SITE_URL" not in os.environ:  # links in the demo's letters must lead here, on whatever port
            os.environ["SITE_URL"] = settings.SITE_URL = address
        if fresh:
            self.begin_anew()
        self.stdout.write(_("Bringing the database up to date …"))
        call_command("migrate", verbosity=0, interactive=False)
        if settings.DEMO and not get_user_model().objects.exists():
            self.stdout.write(_("Living the demo nursery's season up to today, once: about a minute …"))
            call_command("load_demo", quiet=True, stdout=self.stdout)  # its sign-ins stand under the address
        self.exec_gunicorn(host, port, address)

    def begin_anew(self) -> None:
        if not settings.DEMO:
            raise CommandError(_("--fresh is for the demo nursery only: it throws all data away."))
        self.stdout.write(_("Throwing the old demo nursery away …"))
        for suffix in ("", "-wal", "-shm"):
            (settings.DATA_DIR / f"graftwright.sqlite3{suffix}").unlink(missing_ok=True)

    def exec_gunicorn(self, host: str, port: int, address: str) -> None:
        """Become gunicorn, so that Ctrl-C reaches it directly."""
        if host not in LOCAL:
            os.environ.setdefault("ALLOWED_HOSTS", ",".join(["localhost", "127.0.0.1", own_address(host)]))
        self.stdout.flush()  # what is still held back would be lost with this program
        os.environ["GRAFTWRIGHT_WELCOME"] = welcome(address)
        config = str(settings.BASE_DIR / "config" / "gunicorn.py")
        bind = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        os.execv(sys.executable, [sys.executable, "-m", "gunicorn", "-c", config, "--bind", bind])


LOCAL = ("127.0.0.1", "localhost", "::1")


def refuse_taken_port(host: str, port: int) -> None:
    """Say before anything is made that the address is not to be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OverflowError as error:
            raise CommandError(_("A port is a number from 1 to 65535.")) from error
        except OSError as error:
            raise CommandError(why_not(error, host, port)) from error


def why_not(error: OSError, host: str, port: int) -> str:
    if error.errno == errno.EADDRINUSE:
        return _("Port %(port)s is taken by another program. Choose another one, for example --port %(next)s.") % {
            "port": port,
            "next": port + 1,
        }
    if error.errno == errno.EACCES:
        return _("Port %(port)s may be used by root only. Choose one above 1023.") % {"port": port}
    return _("Graftwright cannot listen on %(host)s: %(reason)s.") % {"host": host, "reason": error.strerror}


def own_address(host: str) -> str:
    """How another machine on the local network reaches this one."""
    return socket.gethostname() if host in ("0.0.0.0", "::") else host


def welcome(address: str) -> str:
    lines = ["", _("Graftwright is open at %(address)s") % {"address": address}, ""]
    if settings.DEMO:
        sign_ins = StringIO()
        call_command("load_demo", sign_ins=True, stdout=sign_ins)
        lines += [sign_ins.getvalue()]
    return "\n".join([*lines, _("Ctrl-C stops it."), ""])
