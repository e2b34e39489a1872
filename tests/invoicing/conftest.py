"""A nursery that sells with tax, and those who use it: a grower, a clerk of the office, a stranger."""

from datetime import UTC, datetime, time
from decimal import Decimal

import pytest
import time_machine

from tests.factories import NurseryFactory, UserFactory

from .billing import TODAY


@pytest.fixture
def nursery(db):
    return NurseryFactory(tax_name="VAT", tax_rate=Decimal("7"), currency="EUR", payment_days=14)


@pytest.fixture
def clerk(db):
    return UserFactory(username="clerk", first_name="Nell", last_name="Osier", role="office")


@pytest.fixture
def grower(db):
    return UserFactory(username="grower", role="grower")


@pytest.fixture
def stranger(db):
    return UserFactory(username="stranger")


@pytest.fixture
def on_that_day():
    """It is noon of TODAY, and stays so."""
    with time_machine.travel(datetime.combine(TODAY, time(12), UTC), tick=False):
        yield
