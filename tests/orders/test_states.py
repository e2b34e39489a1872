"""The moves of an order line."""

import itertools

import pytest

from orders import states


def test_a_line_runs_from_asked_to_collected():
    walk = [states.ASKED, states.HELD, states.CONFIRMED, states.GROWING, states.READY, states.COLLECTED]
    for state, wanted in itertools.pairwise(walk):
        states.check_move(state, wanted)


def test_a_collected_line_goes_nowhere():
    for wanted in states.STATES:
        with pytest.raises(states.MoveRefused):
            states.check_move(states.COLLECTED, wanted)


def test_an_order_is_what_its_counting_lines_have_in_common():
    assert states.common_state([states.READY, states.READY, states.CANCELLED]) == states.READY
    assert states.common_state([states.READY, states.GROWING]) == "mixed"
    assert states.common_state([states.CANCELLED, states.CANCELLED]) == states.CANCELLED
    assert states.common_state([]) == "empty"
