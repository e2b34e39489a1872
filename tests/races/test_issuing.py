"""Two issuers at once: no gap, no number twice, no plant billed twice, no invoice paid twice."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from . import issuers

ROOT = Path(__file__).resolve().parent.parent.parent
FORTY = [f"2027-{n:04d}" for n in range(1, 41)]


def check_issued(result):
    assert result["ends"] == ["", ""]
    assert result["numbers"] == FORTY


def check_twice(result):
    assert result["billed"] == ["", "", "", ""]
    assert result["refusals"] == {"": 1, "Refused": 3}
    assert result["payments"] == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_numbers_have_no_gap_on_postgresql():
    check_issued(issuers.issue_side_by_side())


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_what_is_sent_twice_happens_once_on_postgresql():
    check_twice(issuers.submit_twice())


def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery(tmp_path):
    env = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    done = subprocess.run(
        [sys.executable, "-m", "tests.races.issuers"],
        cwd=ROOT,
        env=env | {"GRAFTWRIGHT_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert not done.returncode, done.stderr
    result = json.loads(done.stdout)
    check_issued(result["issued"])
    check_twice(result["twice"])
