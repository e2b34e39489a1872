"""Two joining one batch at once, and one joining what another sows: never more promised than the batch grows."""

import pytest

from . import joiners
from .embedded import on_sqlite, told_on_sqlite


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


@on_sqlite
def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery():
    check_one_joined(told_on_sqlite(joiners)["join_side_by_side"])
