"""Two joining one batch at once, and one joining what another sows: never more promised than the batch grows."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from . import joiners

ROOT = Path(__file__).resolve().parent.parent.parent


def check_one_joined(result):
    assert result["ends"] == ["", "Refused"]
    assert (result["plants"], result["allocated"]) == (130, 130)
    assert (result["promised"], result["on_it"]) == (2, 2)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_of_two_that_find_room_for_one_one_joins_on_postgresql():
    check_one_joined(joiners.join_side_by_side())


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_batch_is_joined_before_it_is_sown_or_not_at_all_on_postgresql():
    result = joiners.join_while_it_is_sown()
    assert result["sown"] == 1
    joined = result["ends"] == ["", ""]
    assert joined or result["ends"] == ["", "Refused"]
    assert (result["plants"], result["allocated"]) == ((130, 130) if joined else (65, 65))
    assert result["promised"] == (2 if joined else 1)


def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery(tmp_path):
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "EMAIL_URL")}
    done = subprocess.run(
        [sys.executable, "-m", "tests.races.joiners"],
        cwd=ROOT,
        env=env | {"GRAFTWRIGHT_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert not done.returncode, done.stderr
    check_one_joined(json.loads(done.stdout))
