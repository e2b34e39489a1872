"""What can be said of a seed lot: how much of it germinated, and how that stands to what the law asks for."""

from __future__ import annotations

from django.utils.translation import gettext as _

from .models import SeedLot
from .starting.seed_law import lowest_germination

ENOUGH_SEEDS = 400  # a test for labelling takes at least so many, in replicates: 7 CFR 201.54


def germination(lot: SeedLot) -> float | None:
    """The share of tested seeds that germinated; None without a test."""
    if not lot.tested_seeds or lot.germinated_seeds is None:
        return None
    return lot.germinated_seeds / lot.tested_seeds


def below_the_law(lot: SeedLot) -> list[str]:
    """Where seed that germinates so poorly may not be sold, in words; [] where it may, or nothing is known."""
    share, lowest = germination(lot), lowest_germination(lot.variety.crop.botanical_name)
    if share is None or lowest is None:
        return []
    asked = (
        (lowest.united_states, _("%(n)d %% in the United States (7 CFR 201.31)")),
        (lowest.european_union, _("%(n)d %% in the European Union (Directive 2002/55/EC)")),
    )
    return [words % {"n": percent} for percent, words in asked if share * 100 < percent]
