"""Two issuers at once: no gap, no number twice, no plant billed twice, no invoice paid twice."""

import pytest

from . import issuers
from .embedded import on_sqlite, told_on_sqlite

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


@on_sqlite
def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery():
    result = told_on_sqlite(issuers)
    check_issued(result["issue_side_by_side"])
    check_twice(result["submit_twice"])
