"""What is sown while it is cancelled or moved: whoever is second is told so, and neither waits for the other."""

import pytest

from . import sowers

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_what_is_cancelled_while_it_is_sown_is_cancelled():
    for found in sowers.sow_while(sowers.cancel):
        sown, cancelled = found["ends"]
        assert (sown in ("", "Refused"), cancelled, found["state"]) == (True, "", "cancelled"), found
        assert found["parts"] == []


def test_what_is_moved_while_it_is_sown_is_the_one_or_the_other():
    for found in sowers.sow_while(sowers.move):
        sown = found["state"] == "growing"
        assert found["ends"] in (["", "Refused"], ["", ""]) if sown else ["Refused", ""], found
        assert found["parts"] == (["alive"] if sown else ["planned"])
