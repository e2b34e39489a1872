"""Held promises at once: the last tray is held by one, and what lapses while it is confirmed has one clear end."""

import pytest

from . import holders
from .embedded import on_sqlite, told_on_sqlite


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


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_customer_who_accepts_what_is_let_go_is_told_in_words_for_customers():
    for found in holders.accept_and_let_go():
        accepted, let_go = found["ends"]
        if found["state"] == "confirmed":
            assert (accepted, let_go.partition(":")[0], found["room"]) == ("", "MoveRefused", True)
        else:
            assert (found["state"], let_go, found["room"]) == ("let_go", "", False)
            assert accepted == "Refused: This promise has ended. Please ring us, and we look at it anew."


@on_sqlite
def test_so_it_is_on_the_sqlite_file_of_an_embedded_nursery():
    result = told_on_sqlite(holders)
    check_one_held(result["hold_the_last_tray"])
    check_one_clear_end(result["lapse_and_confirm"])
    check_accepted_once(result["accept_twice"])
