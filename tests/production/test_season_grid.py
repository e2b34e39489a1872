"""Which sets of skills the season shows: what binds, and one row in which all work is counted."""

from datetime import date, timedelta

import pytest

from production.planning.load import Load
from production.planning.terms import HandsClaim
from production.season.grid import telling
from tests.planning import nursery
from tests.planning.nursery import MONDAY

TUESDAY = MONDAY + timedelta(days=1)


def shown(*days: slice, **hours: dict[date, float]) -> list[tuple[str, ...]]:
    """Iris grafts, she and Tom do the rest, eight hours each; the skills of the rows shown."""
    claims = [
        HandsClaim("1", "Order 1", day, ((skill, asked),))
        for skill, each in hours.items()
        for day, asked in each.items()
    ]
    load = Load(nursery.season(hands=tuple(claims)))
    at = load.index(MONDAY)
    return [tuple(sorted(load.sets[index].skills)) for index in telling(load, *(days or (slice(at, at + 7),)))]


@pytest.mark.parametrize(
    ("graft", "crew", "rows"),
    [
        (1, 1, [("crew", "graft")]),  # nobody is pressed: one row tells it
        (5, 1, [("graft",), ("crew", "graft")]),  # her day is fuller than theirs
        (5, 9, [("crew", "graft")]),  # theirs is fuller than hers
        (9, 9, [("graft",), ("crew", "graft")]),  # both overloaded, and both said
        (0, 1, [("crew", "graft")]),
        (0, 0, []),
    ],
)
def test_a_row_is_shown_where_it_binds(graft, crew, rows):
    assert shown(graft={MONDAY: graft}, crew={MONDAY: crew}) == rows


def test_each_day_is_looked_at():
    rows = [("graft",), ("crew", "graft")]
    assert shown(graft={MONDAY: 1, TUESDAY: 5}, crew={MONDAY: 10, TUESDAY: 0}) == rows
