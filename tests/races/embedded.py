"""A race run by a process of its own on the SQLite file that an embedded nursery has; what it tells, as JSON."""

import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent
SET_HERE = ("DATABASE_URL", "EMAIL_URL")  # of the tests, not of an embedded nursery


def told_on_sqlite(race: ModuleType, folder: Path) -> Any:
    env = {name: value for name, value in os.environ.items() if name not in SET_HERE}
    done = subprocess.run(
        [sys.executable, "-m", race.__name__],
        cwd=ROOT,
        env=env | {"GRAFTWRIGHT_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert not done.returncode, done.stderr
    return json.loads(done.stdout)
