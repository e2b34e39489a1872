"""The factories make rows that the database takes, and roles that may do what config/roles.py says."""

import pytest

from tests import factories

pytestmark = pytest.mark.django_db


def test_a_line_of_which_plants_were_handed_over_is_valid():
    line = factories.LineFactory(collected=60)
    line.full_clean()
    assert (line.state, line.ready_quantity, line.collected_quantity) == ("collected", 60, 60)
    assert factories.LineFactory(order=line.order).number == 2


def test_a_role_brings_its_permissions():
    assert factories.UserFactory(role="grower").has_perm("orders.take_orders")
    assert not factories.UserFactory().has_perm("orders.take_orders")


def test_there_is_one_nursery():
    assert factories.NurseryFactory().pk == factories.NurseryFactory(name="Birchwell").pk == 1
