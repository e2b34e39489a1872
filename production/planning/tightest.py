"""Where a plan that fits leaves least room: what to look at first when something grows or goes wrong."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from .claims import place_claims
from .load import Load
from .terms import LinePlan, Place


@dataclass(frozen=True, slots=True)
class Tight:
    """A place on the night on which it is fullest while the plan stands there, in its own measure."""

    place: Place
    night: date
    taken: float  # with what the plan takes
    there: float


def tightest(load: Load, plan: LinePlan, beside: Iterable[LinePlan] = ()) -> Tight | None:
    """The fullest night of any place of the plan, of equals the first; nothing where it stands nowhere.

    `load` carries all that is taken but for the plan, and for those `beside` that are promised with it.
    """
    trial = load.copy()
    for each in (plan, *beside):
        trial.take(*place_claims(each, each.wish.key))
    fullest: Tight | None = None
    for stay in plan.stays:
        row, first = trial.row[stay.place], max(trial.index(stay.first), 0)
        for night in range(first, min(trial.index(stay.leaves), trial.size)):
            taken, there = float(trial.used[row, night]), float(trial.capacity[row, night])
            if there and (fullest is None or taken * fullest.there > fullest.taken * there):
                fullest = Tight(load.season.places[row], trial.days[night], taken, there)
    return fullest
