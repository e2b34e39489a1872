"""The name that was meant by one not quite written."""

import pytest

from orders.near import near

KNOWN = ("Tallis Red", "Marrowby", "Green Linnet", "Pomfret", "Kelder", "Green Heron")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("tallis", "Tallis Red"),
        ("Talis Red", "Tallis Red"),
        ("  TALLIS   RED ", "Tallis Red"),
        ("heron", "Green Heron"),
        ("marroby", "Marrowby"),
        ("pom", "Pomfret"),
        ("green", ""),  # two begin so, neither more than the other
        ("xylophone", ""),
        ("re", ""),
        ("", ""),
    ],
)
def test_a_name_not_quite_written_is_known_again(typed, meant):
    assert near(typed, KNOWN) == meant
