"""What is promised, moved: to another day or into pieces, looked at first; or to make room for another's order.

As with a promise, solving happens outside the transaction and the referee judges inside it, on fresh data.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from orders import holding, states
from orders import services as orders
from orders.models import Nursery, Order, OrderLine, User
from orders.refusals import Refused

from .. import at_hand, bridge
from ..models import Batch, Part, Protocol
from ..papers.confirmation import ask_for_confirmation
from ..planning import level, terms
from ..planning.claims import place_claims
from ..planning.conflicts import conflicts
from ..planning.promise import judge, load_for
from .answering import LineAnswer, refusal_of
from .common import lock_grown_for
from .joining import alone, give_back
from .judging import TRIES, HoldsNoMore, judged, lock_the_plan


@dataclass(frozen=True, slots=True)
class Move:
    """A change of a promised line that is only looked at; and the conflicts before it and after it."""

    line: OrderLine
    answers: tuple[terms.Answer, ...]
    protocol: Protocol | None
    before: tuple[terms.Conflict, ...]
    after: tuple[terms.Conflict, ...]

    @property
    def fits(self) -> bool:
        return all(answer.fits for answer in self.answers)


def look_at_move(
    *, line: OrderLine, pieces: Sequence[tuple[int, date]], today: date, taken: bridge.Taken | None = None
) -> Move:
    """What it would be like to hand the line over in these (quantity, pickup) pieces. Stores nothing.

    `taken` stands in for what is taken now: what if the nursery were otherwise.
    """
    _refuse_move(line, pieces, today)
    nursery = Nursery.current()
    protocol = planned_protocol(line)
    taken = taken or at_hand.taken(today, nursery)
    wishes = [_piece(line, nursery, protocol, *piece) for piece in pieces]
    before = conflicts(load_for(taken.season(), wishes))
    load = load_for(taken.season(but=alone(line)), wishes)
    answers = []
    for wish in wishes:
        answer = judge(load, wish)
        if answer.plan:
            load.take(*place_claims(answer.plan, answer.wish.key))
        answers.append(answer)
    return Move(line, tuple(answers), protocol, before, conflicts(load))


def _piece(
    line: OrderLine, nursery: Nursery, protocol: Protocol | None, quantity: int, pickup: date
) -> terms.Wish:
    wish = bridge.wish_of(line, nursery=nursery, protocol=protocol, pickup=pickup, quantity=quantity)
    return replace(wish, earlier=0, later=0)


def planned_protocol(line: OrderLine) -> Protocol | None:
    """The version the line was planned with; for a line without a plan, the current one."""
    batch = Batch.objects.filter(parts__allocations__line=line).exclude(parts__state=Part.State.DROPPED).first()
    if batch and batch.protocol_id:
        return bridge.protocols().get(pk=batch.protocol_id)
    return bridge.current_protocol(line)


def _refuse_move(line: OrderLine, pieces: Sequence[tuple[int, date]], today: date) -> None:
    if line.state not in (states.CONFIRMED, states.HELD):
        raise Refused(
            _("%(line)s is %(state)s.") % {"line": line, "state": line.get_state_display()},
            mend=_("Only a line that is promised and not yet sown can be moved here."),
            field="line",
        )
    if sum(quantity for quantity, _pickup in pieces) != line.quantity or any(q < 1 for q, _pickup in pieces):
        raise Refused(
            _("The pieces do not add up to %(n)s plants.") % {"n": line.quantity},
            mend=_("Give each piece at least one plant."),
            field="quantity",
        )
    if any(pickup < today for _q, pickup in pieces):
        raise Refused(_("The pickup lies in the past."), mend=_("Choose a later day."), field="pickup")


def move(
    *, line: OrderLine, pieces: Sequence[tuple[int, date]], by: User | None, today: date, over_conflict: str = ""
) -> OrderLine:
    """Hand a promised line over on another day, or in several pieces (further pieces become lines of the order).

    The old room is given back and the new room taken in one transaction. Raises Refused when it does not fit.
    """
    outdated = HoldsNoMore()
    for _attempt in range(TRIES):
        looked = look_at_move(line=line, pieces=pieces, today=today)
        answers = [LineAnswer(line, (), answer, looked.protocol) for answer in looked.answers]
        for said in answers:
            if not said.fits and not (over_conflict.strip() and said.plan):
                raise refusal_of(said)
        try:
            commit_move(line, answers, by=by, today=today, over_conflict=over_conflict)
        except HoldsNoMore as found:
            outdated = found
        else:
            line.refresh_from_db()
            return line
    raise outdated.refusal()


def commit_move(
    line: OrderLine, answers: Sequence[LineAnswer], *, by: User | None, today: date, over_conflict: str
) -> None:
    """Store a move that was looked at, judged on fresh data; HoldsNoMore when it cannot be stored."""
    with transaction.atomic():
        nursery = lock_the_plan()
        lock_grown_for([line.pk])
        row = orders.locked(line)
        _refuse_move(row, [(said.plan.wish.quantity, said.plan.pickup) for said in answers if said.plan], today)
        plans = [said.plan for said in answers if said.plan]
        season = at_hand.taken(today, nursery).season(but=alone(row))
        judged(plans, season, over_conflict=over_conflict)
        give_back(row)
        for number, plan in enumerate(plans):
            piece = row if number == 0 else orders.split_off(line=row, quantity=plan.wish.quantity, by=by)
            if number == 0 and len(plans) > 1:
                row.quantity = plan.wish.quantity
                row.save(update_fields=["quantity"])
            bridge.store_line(piece, plan, answers[number].protocol)
            _end_sooner(piece, plan, by=by, today=today)
            orders.move_pickup(line=piece, pickup=plan.pickup, by=by, why=over_conflict)
        ask_for_confirmation(row.order, by=by, draft=True)


def _end_sooner(line: OrderLine, plan: terms.LinePlan, *, by: User | None, today: date) -> None:
    """A line that is held and moved is held no longer than until the day before its new first work."""
    last = last_day_to_hold(plan)
    if line.state != states.HELD or line.hold_until is None or line.hold_until <= last:
        return
    if last < today:
        raise Refused(
            _("Then its first work is due today, and nothing is sown for what is only held."),
            mend=_("Confirm it first, or choose a later pickup."),
            field="pickup",
        )
    holding.hold_until(line=line, until=last, by=by)


def last_day_to_hold(plan: terms.LinePlan) -> date:
    """The last day on which this plan can be only held: the day before anything of it begins."""
    return plan.first_day - timedelta(days=1)


# --- making room for another's order ---------------------------------------------------------------------------


def make_room(move: level.Move, *, why: str, by: User | str | None) -> Order | None:
    """Move a promised line of which nothing is sown; its order, if the customer must be told.

    Inside the transaction that holds the lock of the plan and of the line's parts, with the plan judged already;
    HoldsNoMore if it was sown.
    """
    line = orders.locked(OrderLine.objects.get(pk=bridge.line_of(move.key)))
    parts = bridge.parts_of(line)
    if line.state != states.CONFIRMED or any(part.state != Part.State.PLANNED for part in parts):
        raise HoldsNoMore
    protocol = planned_protocol(line)
    give_back(line)
    bridge.store_line(line, move.plan, protocol)
    if move.plan.pickup == line.pickup:
        return None
    orders.move_pickup(line=line, pickup=move.plan.pickup, by=by, why=why)
    return line.order
