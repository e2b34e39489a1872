import pytest

from . import growing


@pytest.fixture
def ground(db):
    return growing.ground()
