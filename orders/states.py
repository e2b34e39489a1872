"""The states of an order line, the moves that are allowed, and the refusal of any other. Plain Python."""

from __future__ import annotations

from collections.abc import Iterable

ASKED = "asked"
HELD = "held"
CONFIRMED = "confirmed"
GROWING = "growing"
READY = "ready"
COLLECTED = "collected"
LET_GO = "let_go"
CANCELLED = "cancelled"

STATES = (ASKED, HELD, CONFIRMED, GROWING, READY, COLLECTED, LET_GO, CANCELLED)

# States in which a line takes room and hands.
TAKES_ROOM = frozenset({HELD, CONFIRMED, GROWING, READY})
# States in which the nursery has given its word.
PROMISED = frozenset({CONFIRMED, GROWING, READY})
# States that only a promise leads to, kept or not.
ONCE_PROMISED = PROMISED | {COLLECTED, CANCELLED}
ENDED = frozenset({COLLECTED, LET_GO, CANCELLED})

MOVES: dict[str, frozenset[str]] = {
    ASKED: frozenset({HELD, CONFIRMED, LET_GO}),
    HELD: frozenset({CONFIRMED, LET_GO, ASKED}),
    CONFIRMED: frozenset({GROWING, CANCELLED}),
    GROWING: frozenset({READY, CANCELLED}),
    READY: frozenset({COLLECTED, GROWING, CANCELLED}),
    COLLECTED: frozenset(),
    LET_GO: frozenset({ASKED}),
    CANCELLED: frozenset(),
}


class MoveRefused(ValueError):
    """A line may not go from one state to another; both are named."""

    def __init__(self, state: str, wanted: str) -> None:
        self.state = state
        self.wanted = wanted
        super().__init__(f"A line that is {state.replace('_', ' ')} cannot become {wanted.replace('_', ' ')}.")


def check_move(state: str, wanted: str) -> None:
    """Raise MoveRefused unless a line may go from `state` to `wanted`."""
    if wanted not in MOVES[state]:
        raise MoveRefused(state, wanted)


def common_state(states: Iterable[str]) -> str:
    """What an order 'is': the state that its lines still counting share, else 'mixed'; 'empty' without lines."""
    found = list(states)
    if not found:
        return "empty"
    counting = [state for state in found if state not in (LET_GO, CANCELLED)] or found
    return counting[0] if len(set(counting)) == 1 else "mixed"
