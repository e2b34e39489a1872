"""Several workers at once: each job done once, each letter sent at most once, one paper for one cause."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from . import workers

ROOT = Path(__file__).resolve().parent.parent.parent


def check_drained(result):
    assert result["ends"] == [""] * workers.WORKERS
    assert [list(pair) for pair in result["times"]] == [[1, 40]]
    assert result["left"] == 0


def check_sent(result):
    assert result["ends"] == [""] * workers.WORKERS
    assert (result["letters"], result["most"]) == (10, 1)
    assert result["states"] == ["sent"]


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_each_job_is_done_once_on_postgresql(monkeypatch):
    monkeypatch.setattr("orders.jobs.HANDLERS", {})
    check_drained(workers.drain_side_by_side())


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_letter_leaves_at_most_once_on_postgresql(settings):
    settings.EMAIL_BACKEND = "orders.mailbox.MailboxBackend"
    check_sent(workers.send_side_by_side())


@pytest.mark.postgres
@pytest.mark.papers
@pytest.mark.django_db(transaction=True)
def test_one_cause_is_one_paper_and_no_revision_is_used_twice_on_postgresql():
    result = workers.issue_side_by_side()
    assert result["ends"] == [""] * 2 * workers.WORKERS
    assert result["same"] == 1
    assert result["revisions"] == [1, 2, 3, 4, 5]


def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery(tmp_path):
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "EMAIL_URL")}
    done = subprocess.run(
        [sys.executable, "-m", "tests.races.workers"],
        cwd=ROOT,
        env=env | {"GRAFTWRIGHT_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert not done.returncode, done.stderr
    result = json.loads(done.stdout)
    check_drained(result["drained"])
    check_sent(result["sent"])
