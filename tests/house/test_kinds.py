"""The order file and the planning core name the same kinds of place; neither may import the other."""

from orders.models import PlaceKind
from production.planning import terms


def test_kinds_of_place_are_those_that_plans_know():
    assert set(PlaceKind.values) == set(terms.PLACE_KINDS)
