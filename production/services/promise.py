"""The promise: room taken for an order's lines, and the word given. A promise is one transaction.

Solving happens outside the transaction; inside it the referee judges the found plan on fresh data under one lock,
so that two clerks cannot both sell the last chamber tray. When something changed meanwhile it is solved again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import services as orders
from orders import states
from orders.models import Order, OrderLine, User
from orders.refusals import ManyRefused, Refused

from .. import at_hand, bridge
from ..models import Part
from ..papers.confirmation import ask_for_confirmation
from ..planning import level
from ..planning.joining import Joined
from . import joining as joins
from .answering import LineAnswer, refusal_of, with_room_made
from .common import lock_grown_for, locked
from .joining import Joining
from .judging import TRIES, HoldsNoMore, judged, lock_the_plan
from .moving import make_room

Give = Callable[[Sequence[LineAnswer], Sequence[OrderLine]], None]


def accept(
    *,
    order: Order,
    by: User | str | None,
    today: date,
    lines: Sequence[OrderLine] | None = None,
    over_conflict: str = "",
    moving: bool = False,
    joining: Sequence[Joining] = (),
) -> Order:
    """Take the room and confirm the order's asked and held lines (or those given), all or none.

    Held lines keep the room they have. Raises ManyRefused, with `lines.N.field`, when a line does not fit;
    `over_conflict` is the grower's reason for confirming in spite of a conflict. With `moving`, promised lines of
    which nothing is sown may move inside their latitude to make room, in the same transaction. With `joining`,
    each line that does not fit on its own goes into the first of these batches, of which nothing is sown, that
    takes it. What is impossible is never confirmed.
    """

    def confirm(answers: Sequence[LineAnswer], held: Sequence[OrderLine]) -> None:
        for said in answers:
            assert said.plan is not None
            orders.mark_confirmed(line=said.line, pickup=said.pickup, by=by, reason=over_conflict)
        for line in held:
            confirm_held(line, by=by, over_conflict=over_conflict)
        ask_for_confirmation(order, by=by)

    open_states = (states.ASKED, states.HELD)
    return take_room(
        order=order, by=by, today=today, lines=lines, of=open_states, over_conflict=over_conflict, moving=moving,
        joining=joining, give=confirm,
    )  # fmt: skip


def take_room(
    *,
    order: Order,
    by: User | str | None,
    today: date,
    lines: Sequence[OrderLine] | None,
    of: Sequence[str],
    over_conflict: str,
    moving: bool,
    joining: Sequence[Joining] = (),
    give: Give,
) -> Order:
    """Room for the order's lines in the states `of` (or those given), all or none, in one transaction with `give`.

    `give` says what is promised of them: it gets the lines that took room just now with their plans, and those
    that had theirs already. Without any such line nothing is done: a second submit of the same.
    """
    if (moving or joining) and isinstance(by, User) and not by.has_perm("production.replan"):
        raise Refused(
            _("You may not move what is promised."), mend=_("Ask the grower, or choose a day that fits.")
        )
    outdated = HoldsNoMore()
    looked_at: set[int] = set()
    for _attempt in range(TRIES):
        wanted = _open_lines(order, lines, of)
        _refuse_let_go(order, looked_at - {line.pk for line in wanted}, nothing_left=not wanted)
        if not wanted:
            return order
        looked_at |= {line.pk for line in wanted}
        held = [line for line in wanted if line.state == states.HELD]
        answers, moves = with_room_made(
            [line for line in wanted if line.state == states.ASKED], today, moving, joining
        )
        _refuse_unless(answers, by=by, over_conflict=over_conflict)
        try:
            _commit(order, answers, held, moves, by=by, today=today, over_conflict=over_conflict, give=give)
        except HoldsNoMore as found:
            outdated = found
        else:
            return order
    raise outdated.refusal()


def _open_lines(order: Order, lines: Sequence[OrderLine] | None, of: Sequence[str]) -> list[OrderLine]:
    chosen = order.lines.select_related("order__customer", "scion__crop", "rootstock__crop", "container").filter(
        state__in=of
    )
    if lines is not None:
        chosen = chosen.filter(pk__in=[line.pk for line in lines])
    return list(chosen.order_by("number"))


def _refuse_let_go(order: Order, gone: set[int], *, nothing_left: bool) -> None:
    """Lines that ended while they were looked at are not passed over in silence, nor an order of none but such."""
    ended = order.lines.filter(state__in=(states.LET_GO, states.CANCELLED))
    standing = order.lines.filter(state__in=[*states.TAKES_ROOM, states.COLLECTED])
    lost = ended.filter(pk__in=gone) if gone else ended.none()
    if nothing_left and not gone and not standing.exists():
        lost = ended
    if line := lost.order_by("number").first():
        raise Refused(
            _("Line %(n)s is %(state)s.") % {"n": line.number, "state": line.get_state_display()},
            mend=_("Ask for it again, then look at the answer."),
        )


def _refuse_unless(answers: Sequence[LineAnswer], *, by: User | str | None, over_conflict: str) -> None:
    over = bool(over_conflict.strip())
    if over and isinstance(by, User) and not by.has_perm("production.promise_over_conflict"):
        raise Refused(_("Only the grower may confirm over a conflict."), mend=_("Choose a day that fits."))
    refusals = []
    for said in answers:
        if said.fits or (over and said.plan is not None):
            continue
        refusal = refusal_of(said)
        index = said.line.number - 1
        refusals.append(Refused(refusal.reason, mend=refusal.mend, field=f"lines.{index}.{refusal.field}"))
    if refusals:
        raise ManyRefused(refusals)


def _commit(
    order: Order,
    answers: Sequence[LineAnswer],
    held: Sequence[OrderLine],
    moves: Sequence[level.Move],
    *,
    by: User | str | None,
    today: date,
    over_conflict: str,
    give: Give,
) -> None:
    """Have the plans judged on fresh data and store them; HoldsNoMore when they cannot be stored."""
    with transaction.atomic():
        nursery = lock_the_plan()
        lock_grown_for(
            [*(line.pk for line in held), *(bridge.line_of(move.key) for move in moves)],
            [said.joins[0].pk for said in answers if said.joins],
        )
        joining = _joining(answers)
        parts = {pk: _as_seen(part) for pk, (part, _joined, _lines) in joining.items()}
        if any(orders.locked(line).state != line.state for line in [*(said.line for said in answers), *held]):
            raise HoldsNoMore  # confirmed by a twin of this request, or let go
        promised = list({said.plan.wish.key: said.plan for said in answers if said.plan}.values())
        if promised:
            taken = at_hand.taken(today, nursery).season(but=parts)
            season = taken.without(frozenset(move.key for move in moves))
            judged([*promised, *(move.plan for move in moves)], season, over_conflict=over_conflict)
        why = _("to make room for %(order)s") % {"order": order}
        told = {other for move in moves if (other := make_room(move, why=why, by=by))}
        for said in answers:
            assert said.plan is not None
            if not said.joins:
                bridge.store_line(said.line, said.plan, said.protocol)
        for pk, (_part, joined, lines) in joining.items():
            joins.store_joined(parts[pk], lines, joined, season=season, by=by)
        give(answers, held)
        for other in told:  # where this order itself has its paper by now, that one says it
            ask_for_confirmation(other, by=by, draft=True)


def _joining(answers: Sequence[LineAnswer]) -> dict[int, tuple[Part, Joined, list[OrderLine]]]:
    """By key the parts that are joined, what they become, and by which lines."""
    found: dict[int, tuple[Part, Joined, list[OrderLine]]] = {}
    for said in answers:
        if said.joins:
            part, joined = said.joins
            found.setdefault(part.pk, (part, joined, []))[2].append(said.line)
    return found


def _as_seen(part: Part) -> Part:
    """The part that was planned anew, locked; HoldsNoMore if anything was recorded or changed of it since."""
    row = locked(part)
    if row.revision != part.revision or row.state != Part.State.PLANNED:
        raise HoldsNoMore
    return row


def confirm_held(line: OrderLine, *, by: User | str | None, over_conflict: str = "") -> None:
    """Confirm a line that is held, on the day and in the room that it has. Refused if that day was lost since."""
    assert line.pickup is not None
    parts = list(bridge.parts_of(line))
    late = max((part.late_by for part in parts), default=0)
    if late and not over_conflict.strip():
        raise Refused(
            ngettext(
                "Line %(n)s would now be %(late)s day late.", "Line %(n)s would now be %(late)s days late.", late
            )
            % {"n": line.number, "late": late},
            mend=_("Move it to another day first."),
            field=f"lines.{line.number - 1}.pickup_asked",
        )
    orders.mark_confirmed(line=line, pickup=line.pickup, by=by, reason=over_conflict)
    if any(part.state != Part.State.PLANNED for part in parts):
        orders.mark_growing(line=line, by=by)  # sown together with what others had confirmed
