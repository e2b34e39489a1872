"""The real services that some tests need: a browser, PostgreSQL, Redis, a Celery worker, WeasyPrint's libraries.

Nothing here is a stand-in. A service that is missing says what is missing; tests/conftest.py makes that a skip, or
a failure where GRAFTWRIGHT_REQUIRE names the service.
"""

import ctypes
import hashlib
import os
import shutil
import socket
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path
from urllib.parse import urlsplit

ROOT = Path(__file__).resolve().parent.parent
POSTGRES = os.environ.get("GRAFTWRIGHT_TEST_POSTGRES", "postgres://postgres@127.0.0.1:5432")
REDIS = os.environ.get("GRAFTWRIGHT_TEST_REDIS", "redis://127.0.0.1:6379/9")


def chromium() -> str | None:
    """The browser of this machine; playwright's own is a download that we do not ask for."""
    unpacked = str(ROOT / ".cache" / "debian" / "usr" / "lib" / "chromium" / "chromium")  # by ./run, without root
    names = (os.environ.get("GRAFTWRIGHT_CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome", unpacked)
    return next((path for path in map(shutil.which, filter(None, names)) if path), None)


def database_url() -> str:
    """A database of this checkout's own, so that two checkouts may test at once on one server."""
    return f"{POSTGRES.rstrip('/')}/graftwright_{hashlib.sha256(str(ROOT).encode()).hexdigest()[:8]}"


@cache
def no_postgres_server() -> str:
    import psycopg

    try:
        psycopg.connect(f"{POSTGRES.rstrip('/')}/postgres", connect_timeout=3).close()
    except psycopg.Error as error:
        reason = str(error).strip().splitlines()[-1]
        return f"no PostgreSQL lets us in at {POSTGRES} (GRAFTWRIGHT_TEST_POSTGRES): {reason}"
    return ""


@cache
def no_browser() -> str:
    return "" if chromium() else "no chromium on this machine (apt-get install chromium)"


@cache
def no_postgres() -> str:
    from django.db import connection

    return "" if connection.vendor == "postgresql" else "runs on PostgreSQL only (plain ./run test does it)"


@cache
def no_worker() -> str:
    if missing := no_postgres():
        return missing
    address = urlsplit(REDIS)
    try:
        socket.create_connection((address.hostname or "127.0.0.1", address.port or 6379), timeout=3).close()
    except OSError as error:
        return f"no Redis answers at {REDIS} (GRAFTWRIGHT_TEST_REDIS): {error}"
    return ""


@cache
def no_papers() -> str:
    try:
        for library in ("libpango-1.0.so.0", "libpangoft2-1.0.so.0"):
            ctypes.CDLL(library)
    except OSError as error:
        return f"papers are off: {error} (apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0)"
    return ""


# marker -> what is missing, or ''
MISSING: dict[str, Callable[[], str]] = {
    "browser": no_browser,
    "postgres": no_postgres,
    "worker": no_worker,
    "papers": no_papers,
}


if __name__ == "__main__":
    # `python -m tests.services` tells ./run whether PostgreSQL answers; with `database`, which one to use.
    if sys.argv[1:] == ["database"]:
        sys.stdout.write(database_url())
    elif missing := no_postgres_server():
        sys.stdout.write(f"Left out, tests of races and of the Celery worker: {missing}\n")
        sys.exit(1)
