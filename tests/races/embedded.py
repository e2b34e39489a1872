"""All races that run on the SQLite file of an embedded nursery too, in one process of its own; what they tell.

Run as a program, with GRAFTWRIGHT_DATA naming an empty folder, it makes that nursery, runs what stands in
ON_SQLITE of each module, and prints what each function told, or how it failed, as JSON.
"""

import importlib
import json
import os
import subprocess
import sys
import traceback
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
SET_HERE = ("DATABASE_URL", "EMAIL_URL")  # of the tests, not of an embedded nursery
RACES = ("killed", "holders", "issuers", "joiners", "workers")  # forks come before threads

on_sqlite = pytest.mark.xdist_group("embedded")  # one process for all of them, since its start takes the longest


def told_on_sqlite(race: ModuleType) -> Any:
    """What the functions of this module told, by their names."""
    told = _all_told()[race.__name__.rpartition(".")[2]]
    assert "failed" not in told, told["failed"]
    return told


@cache
def _all_told() -> dict[str, Any]:
    env = {name: value for name, value in os.environ.items() if name not in SET_HERE}
    with TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", __name__],
            cwd=ROOT,
            env=env | {"GRAFTWRIGHT_DATA": folder, "DJANGO_SETTINGS_MODULE": "config.settings"},
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
    assert not done.returncode, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def _run() -> dict[str, Any]:
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    told: dict[str, Any] = {}
    for name in RACES:
        told[name] = {}
        try:
            for race in importlib.import_module(f"tests.races.{name}").ON_SQLITE:
                told[name][race.__name__] = race()
                call_command("flush", verbosity=0, interactive=False)
        except Exception:
            told[name]["failed"] = traceback.format_exc()
            call_command("flush", verbosity=0, interactive=False)
    return told


if __name__ == "__main__":
    json.dump(_run(), sys.stdout)
