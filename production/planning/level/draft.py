"""A plan as numbers: enough to count it on a load and to weigh it; written out as a plan once it is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from production.planning.allowed import Allowed
from production.planning.backward import Dates
from production.planning.course import course_of
from production.planning.ledger import Spots
from production.planning.load import Load
from production.planning.options import line_plan
from production.planning.settle import Chosen, Settled
from production.planning.terms import LinePlan, Wish


@dataclass(frozen=True, slots=True)
class DraftPart:
    """So many plants of a line, with their dates and the places of their stands."""

    plants: int
    dates: Dates
    chosen: Chosen


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """Where a line would stand and what it would ask of hands; `nights` away from the usual ones, in total."""

    pickup: date
    parts: Sequence[DraftPart]
    spots: Spots
    nights: int

    def written_out(self, wish: Wish, unlimited: Load) -> LinePlan:
        """The same as a plan of this wish; the load only dates it."""
        season = unlimited.season
        settled = []
        for part in self.parts:
            course = course_of(wish, part.plants, season.places, season.prices)
            settled.append(Settled(unlimited, Allowed(unlimited, course), part.dates, True, part.chosen))
        plans = [part.part(number, len(settled)) for number, part in enumerate(settled, start=1)]
        return line_plan(wish, self.pickup, plans, season.prices)
