"""Several workers at once: each job done once, each letter sent at most once, one paper for one cause."""

import pytest

from . import workers
from .embedded import on_sqlite, told_on_sqlite


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


@on_sqlite
def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery():
    result = told_on_sqlite(workers)
    check_drained(result["drain_side_by_side"])
    check_sent(result["send_side_by_side"])
