"""The lowest germination that seed may be sold with: for information beside a test, never a rule of the service.

United States: 7 CFR 201.31. European Union: Directive 2002/55/EC, Annex II (from memory). Local rules go first.
"""

from __future__ import annotations

from typing import NamedTuple


class LowestGermination(NamedTuple):
    """Percent of seeds that must germinate."""

    united_states: int
    european_union: int


# By the beginning of the botanical name, the longest that fits.
BY_BOTANICAL_NAME = {
    "Solanum lycopersicum": LowestGermination(75, 75),
    "Capsicum": LowestGermination(55, 65),
    "Solanum melongena": LowestGermination(60, 65),
    "Cucumis sativus": LowestGermination(80, 80),
    "Cucumis melo": LowestGermination(75, 75),
    "Citrullus": LowestGermination(70, 75),
    "Cucurbita": LowestGermination(75, 75),
    "Cucurbita maxima": LowestGermination(75, 80),
}


def lowest_germination(botanical_name: str) -> LowestGermination | None:
    """The two percentages for a crop, or None where the table is silent."""
    fitting = [name for name in BY_BOTANICAL_NAME if botanical_name.startswith(name)]
    return BY_BOTANICAL_NAME[max(fitting, key=len)] if fitting else None
