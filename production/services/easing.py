"""What would help in a conflict: how one of the promised lines in it could go elsewhere. Stores nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from orders import states
from orders.models import Nursery, OrderLine
from orders.refusals import Refused

from .. import at_hand, bridge
from ..planning.promise import promise as ask
from . import ways
from .answering import LineAnswer
from .joining import alone
from .moving import planned_protocol

MOVABLE = (states.CONFIRMED, states.HELD)  # promised, and nothing of it sown


@dataclass(frozen=True, slots=True)
class Easing:
    """A promised line asked for anew, with everything else where it stands.

    `said` fits where it has other dates inside its latitude; else `out` is what else could be done.
    """

    said: LineAnswer
    out: ways.Out


def easing_of(*, line: OrderLine, today: date) -> Easing:
    """Raises Refused for a line that cannot move: nobody promised it, or it is sown."""
    if line.state not in MOVABLE:
        raise Refused(
            _("%(line)s is %(state)s.") % {"line": line, "state": line.get_state_display()},
            mend=_("Only a line that is promised and not yet sown can be moved here."),
            field="line",
        )
    nursery = Nursery.current()
    protocol = planned_protocol(line)
    season = at_hand.taken(today, nursery).season(but=alone(line))
    wish = bridge.wish_of(line, nursery=nursery, protocol=protocol, pickup=line.pickup_asked)
    answer = ask(season, [wish])[0]
    return Easing(
        LineAnswer(line, (), answer, protocol), ways.out_of(line, answer, season=season, nursery=nursery)
    )
