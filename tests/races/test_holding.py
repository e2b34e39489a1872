"""Held promises at once: the last tray is held by one, and what lapses while it is confirmed has one clear end."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from . import holders

ROOT = Path(__file__).resolve().parent.parent.parent


def check_one_held(result):
    assert result["ends"] == ["", "ManyRefused"]
    assert (result["states"], result["parts"]) == (["asked", "held"], 1)


def check_one_clear_end(rounds):
    assert len(rounds) == holders.ROUNDS
    for each in rounds:
        lapsed, confirmed = each["ends"]
        assert lapsed == ""
        if each["state"] == "confirmed":
            assert (confirmed, each["room"]) == ("", True)
        else:
            assert (each["state"], each["room"]) == ("let_go", False)
            assert confirmed.startswith("Refused: Line 1 is let go"), "whoever confirmed it is told"


def check_accepted_once(result):
    assert result == {"ends": [""] * 4, "state": "confirmed", "accepted": 1, "papers": 1}


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_the_last_tray_is_held_for_one_on_postgresql():
    check_one_held(holders.hold_the_last_tray())


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_what_lapses_while_it_is_confirmed_has_one_clear_end_on_postgresql():
    check_one_clear_end(holders.lapse_and_confirm())


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_pressed_four_times_it_is_accepted_once_on_postgresql():
    check_accepted_once(holders.accept_twice())


def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery(tmp_path):
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "EMAIL_URL")}
    done = subprocess.run(
        [sys.executable, "-m", "tests.races.holders"],
        cwd=ROOT,
        env=env | {"GRAFTWRIGHT_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    assert not done.returncode, done.stderr
    result = json.loads(done.stdout)
    check_one_held(result["hold_the_last_tray"])
    check_one_clear_end(result["lapse_and_confirm"])
    check_accepted_once(result["accept_twice"])
