"""The last word before plans are stored: one writer at a time, and the referee's judgement on fresh data."""

from __future__ import annotations

import logging
from collections.abc import Sequence

from django.utils.translation import gettext as _

from orders.models import Nursery
from orders.refusals import Refused

from ..planning import check, terms
from ..words import fault_words

log = logging.getLogger(__name__)

TRIES = 3  # how often a promise is solved again because something changed meanwhile


class HoldsNoMore(Exception):
    """Plans found a moment ago that the referee does not let pass on fresh data; nothing was stored.

    Once because another was quicker, or the calendar changed; each time anew only if the planner is wrong.
    """

    def __init__(self, faults: Sequence[str] = (), conflicts: Sequence[terms.Conflict] = ()) -> None:
        self.faults = tuple(faults)
        self.conflicts = tuple(conflicts)
        super().__init__(*faults)

    def refusal(self) -> Refused:
        """What is to be said after the last attempt."""
        if not self.faults:
            return Refused(
                _("The season changed while this was being looked at."),
                mend=_("Look at the answer again and try anew."),
            )
        log.error("Plans of ours failed their check and were not stored: %s", "; ".join(self.faults))
        return Refused(
            _("The plan failed its check and is not stored. %(why)s") % {"why": self.faults[0]},
            mend=_("Nothing is changed; please report this."),
        )


def lock_the_plan() -> Nursery:
    """One writer of plans at a time, until the transaction ends: every promise and move takes this row first."""
    return Nursery.objects.select_for_update().get(pk=1)


def judged(plans: Sequence[terms.LinePlan], season: terms.Season, *, over_conflict: str) -> None:
    """The referee's word, as the last before plans are stored: possible, and no cause of any conflict.

    Overloads that were there before refuse nothing that takes no part in them.
    """
    found = check.faults(season, plans)
    if found:
        raise HoldsNoMore([fault_words(fault, season) for fault in found])
    if over_conflict.strip():
        return
    keys = frozenset(plan.wish.key for plan in plans)
    found_beside = check.conflicts(check.near(season, plans), plans, keys)
    ours = [each for each in found_beside if any(cause.owner in keys for cause in each.causes)]
    if ours:
        raise HoldsNoMore(conflicts=ours)
