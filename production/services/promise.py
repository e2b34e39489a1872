"""The promise: what could be, what is confirmed, and what is moved. A promise is one transaction.

Solving happens outside the transaction; inside it the referee judges the found plan on fresh data under one lock,
so that two clerks cannot both sell the last chamber tray. When something changed meanwhile it is solved again.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from orders import history, holding, states
from orders import services as orders
from orders.jobs import enqueue
from orders.models import Nursery, Order, OrderLine, User
from orders.refusals import ManyRefused, Refused

from .. import at_hand, bridge
from ..models import Batch, Part, Protocol
from ..planning import check, level, terms
from ..planning.claims import place_claims, season_with
from ..planning.conflicts import conflicts
from ..planning.joining import Joined
from ..planning.promise import judge, load_for, promise
from ..words import fault_words, part_words, what_lacks
from . import joining as joins
from . import ways
from .common import locked
from .joining import Joining, alone, give_back

log = logging.getLogger(__name__)

TRIES = 3  # how often a promise is solved again because something changed meanwhile


@dataclass(frozen=True, slots=True)
class LineAnswer:
    """What can be said of one line: faults of its own, or the planner's answer."""

    line: OrderLine
    faults: tuple[Refused, ...] = ()
    answer: terms.Answer | None = None
    protocol: Protocol | None = None
    joins: tuple[Part, Joined] | None = None  # the batch it goes into; `plan` is then of all on it

    @property
    def fits(self) -> bool:
        return self.answer is not None and self.answer.fits

    @property
    def plan(self) -> terms.LinePlan | None:
        return self.answer.plan if self.answer else None

    @property
    def pickup(self) -> date:
        """The day to be promised, where there is a plan."""
        assert self.plan is not None
        return self.joins[1].pickup if self.joins else self.plan.pickup


def what_if(
    lines: Sequence[OrderLine],
    *,
    today: date,
    nursery: Nursery | None = None,
    season: terms.Season | None = None,
    closely: bool = True,
) -> list[LineAnswer]:
    """Answers for lines, saved or not, judged together in their order. Stores nothing.

    `season` is the present one, where it has been read already. Not `closely` a no is only a first look.
    """
    nursery = nursery or Nursery.current()
    faulty = [orders.faults_of(line, today=today) for line in lines]
    protocols = [
        None if faults else bridge.current_protocol(line) for line, faults in zip(lines, faulty, strict=True)
    ]
    for line, faults, protocol in zip(lines, faulty, protocols, strict=True):
        if not faults and protocol is None and line.kind != OrderLine.Kind.ROOM:
            faults.append(_no_protocol(line))
    good = [number for number, faults in enumerate(faulty) if not faults]
    wishes = [_wish(lines[n], n, nursery, protocols[n]) for n in good]
    season = season or at_hand.season_of(today, nursery=nursery)
    answers = dict(zip(good, promise(season, wishes, closely=closely), strict=True))
    return [LineAnswer(line, tuple(faulty[n]), answers.get(n), protocols[n]) for n, line in enumerate(lines)]


def ways_out(answers: Sequence[LineAnswer], *, season: terms.Season, nursery: Nursery) -> list[ways.Out]:
    """For each answer, beside what those that fit would take: why not, and what could be done. Stores nothing."""
    taken = season_with(season, [said.plan for said in answers if said.fits and said.plan])
    return [
        ways.out_of(said.line, said.answer, season=taken, nursery=nursery) if said.answer else ways.Out()
        for said in answers
    ]


def _wish(line: OrderLine, number: int, nursery: Nursery, protocol: Protocol | None) -> terms.Wish:
    if line.pk:
        return bridge.wish_of(line, nursery=nursery, protocol=protocol)
    label = _("line %(n)s of this order") % {"n": number + 1}
    return bridge.wish_of(line, nursery=nursery, protocol=protocol, key=f"new:{number}", label=label)


def _no_protocol(line: OrderLine) -> Refused:
    crop = line.scion.crop if line.scion else "?"
    if line.kind == OrderLine.Kind.PLAIN:
        return Refused(
            _("There is no protocol yet for growing %(crop)s without grafting.") % {"crop": crop},
            mend=_("Make one under Nursery, Protocols."),
            field="scion",
        )
    return Refused(
        _("There is no protocol yet for %(crop)s by %(method)s.")
        % {"crop": crop, "method": line.get_method_display().lower()},
        mend=_("Choose another method, or make the protocol under Nursery, Protocols."),
        field="method",
    )


def refusal_of(said: LineAnswer) -> Refused:
    """Why a line cannot be promised as asked, in words, with the nearest days that can."""
    if said.faults:
        return said.faults[0]
    answer = said.answer
    assert answer is not None
    if answer.impossible:
        wrong = answer.impossible
        return Refused(wrong.reason, mend=wrong.mend, field=_line_field(wrong.field))
    return Refused(
        _("It does not fit on %(day)s. %(why)s")
        % {"day": _day(answer.wish.pickup), "why": " ".join(conflict_words(c) for c in answer.conflicts)},
        mend=_nearest_words(answer),
        field="pickup_asked",
    )


def _line_field(field: str) -> str:
    return "pickup_asked" if field == "pickup" else field


def _nearest_words(answer: terms.Answer) -> str:
    days = [_day(plan.pickup) for plan in (answer.earlier, answer.later) if plan]
    if not days:
        return _("No day within two months fits; split the line or make room.")
    return _("It would fit on %(days)s.") % {"days": _(" or on ").join(days)}


def conflict_words(conflict: terms.Conflict) -> str:
    """'Healing chamber, nights of 6 and 7 April: 4 wanted, 1 free…' as a sentence."""
    days = days_words(conflict.first, conflict.last)
    asked, there = _number(conflict.peak), _number(conflict.there)
    if conflict.resource == "hands":
        return _("%(name)s, %(days)s: %(asked)s hours wanted, %(there)s there.") % {
            "name": conflict.name if conflict.part != "day" else what_lacks(conflict),
            "days": days if conflict.part == "day" else f"{days}, {part_words(conflict.part)}",
            "asked": asked,
            "there": there,
        }
    unit = _("m²") if conflict.unit in ("m²", "area") else _("tray places")
    words = ngettext(
        "%(name)s, night of %(days)s: %(asked)s %(unit)s wanted, %(there)s there.",
        "%(name)s, nights of %(days)s: %(asked)s %(unit)s wanted, %(there)s there.",
        (conflict.last - conflict.first).days + 1,
    )
    return words % {"name": conflict.name, "days": days, "asked": asked, "unit": unit, "there": there}


def _number(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")


def days_words(first: date, last: date) -> str:
    if first == last:
        return date_format(first, "j F")
    if (first.year, first.month) == (last.year, last.month):
        return _("%(first)s to %(last)s") % {"first": first.day, "last": date_format(last, "j F")}
    return _("%(first)s to %(last)s") % {"first": date_format(first, "j F"), "last": date_format(last, "j F")}


def _day(day: date) -> str:
    return date_format(day, "D j F")


# --- confirming ----------------------------------------------------------------------------------------------


Give = Callable[[Sequence[LineAnswer], Sequence[OrderLine]], None]


def accept(
    *,
    order: Order,
    by: User | str | None,
    today: date,
    lines: Sequence[OrderLine] | None = None,
    over_conflict: str = "",
    moving: bool = False,
    joining: Joining | None = None,
) -> Order:
    """Take the room and confirm the order's asked and held lines (or those given), all or none.

    Held lines keep the room they have. Raises ManyRefused, with `lines.N.field`, when a line does not fit;
    `over_conflict` is the grower's reason for confirming in spite of a conflict. With `moving`, promised lines of
    which nothing is sown may move inside their latitude to make room, in the same transaction. With `joining`, a
    line that does not fit on its own goes into that batch, of which nothing is sown. What is impossible is never
    confirmed.
    """

    def confirm(answers: Sequence[LineAnswer], held: Sequence[OrderLine]) -> None:
        for said in answers:
            assert said.plan is not None
            orders.mark_confirmed(line=said.line, pickup=said.pickup, by=by, reason=over_conflict)
        for line in held:
            confirm_held(line, by=by, over_conflict=over_conflict)
        paper(order, by=by)

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
    joining: Joining | None = None,
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
        answers, moves = _answers([line for line in wanted if line.state == states.ASKED], today, moving, joining)
        _refuse_unless(answers, by=by, over_conflict=over_conflict)
        try:
            _commit(order, answers, held, moves, by=by, today=today, over_conflict=over_conflict, give=give)
        except HoldsNoMore as found:
            outdated = found
        else:
            return order
    raise outdated.refusal()


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


def _answers(
    lines: Sequence[OrderLine], today: date, moving: bool, joining: Joining | None
) -> tuple[list[LineAnswer], tuple[level.Move, ...]]:
    if not lines:
        return [], ()
    season = at_hand.season_of(today)
    answers = what_if(lines, today=today, season=season)
    if joining:
        return _with_one_joining(answers, season, joining), ()
    return _with_others_moved(answers, season) if moving else (answers, ())


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


def _with_others_moved(
    answers: Sequence[LineAnswer], season: terms.Season
) -> tuple[list[LineAnswer], tuple[level.Move, ...]]:
    """The answers once others have made room, and how those move."""
    nursery = Nursery.current()
    moves: dict[str, level.Move] = {}
    found = []
    for said in answers:
        answer = said.answer
        if answer and not said.fits and not answer.impossible:
            way = ways.moving(answer, season=season, nursery=nursery)
            if way:
                answer = terms.Answer(answer.wish, fits=True, plan=way.plan)
                moves |= {move.key: move for move in way.moves}
                season = season_with(season.without(frozenset(moves)), (move.plan for move in moves.values()))
        if answer and answer.fits and answer.plan:
            season = season_with(season, [answer.plan])
        found.append(replace(said, answer=answer))
    return found, tuple(moves.values())


def _with_one_joining(answers: Sequence[LineAnswer], season: terms.Season, wanted: Joining) -> list[LineAnswer]:
    """The answers once the first line that does not fit by itself has joined the batch. Refused if it cannot."""
    found = list(answers)
    for number, said in enumerate(answers):
        answer = said.answer
        if answer and answer.plan and not answer.fits and not answer.impossible:
            others = season_with(season, [each.plan for each in answers if each.fits and each.plan])
            nursery = Nursery.current()
            part, way = joins.way_into(wanted, said.line, answer, season=others, nursery=nursery)
            fits = terms.Answer(answer.wish, fits=True, plan=way.plan)
            found[number] = replace(said, answer=fits, joins=(part, way.joins) if way.joins else None)
            break
    return found


def _open_lines(order: Order, lines: Sequence[OrderLine] | None, of: Sequence[str]) -> list[OrderLine]:
    chosen = order.lines.select_related("order__customer", "scion__crop", "rootstock__crop", "container").filter(
        state__in=of
    )
    if lines is not None:
        chosen = chosen.filter(pk__in=[line.pk for line in lines])
    return list(chosen.order_by("number"))


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
        parts = {part.pk: _as_seen(part) for part, _joined in (said.joins for said in answers if said.joins)}
        if any(orders.locked(line).state != line.state for line in [*(said.line for said in answers), *held]):
            raise HoldsNoMore  # confirmed by a twin of this request, or let go
        promised = [said.plan for said in answers if said.plan]
        if promised:
            taken = at_hand.taken(today, nursery).season(but=parts)
            season = taken.without(frozenset(move.key for move in moves))
            judged([*promised, *(move.plan for move in moves)], season, over_conflict=over_conflict)
        why = _("to make room for %(order)s") % {"order": order}
        told = {other for move in moves if (other := make_room(move, why=why, by=by))}
        for said in answers:
            assert said.plan is not None
            if said.joins:
                part, joined = said.joins
                joins.store_joined(parts[part.pk], said.line, joined, season=season, by=by)
            else:
                bridge.store_line(said.line, said.plan, said.protocol)
        give(answers, held)
        for other in told:  # where this order itself has its paper by now, that one says it
            paper(other, by=by, draft=True)


def _as_seen(part: Part) -> Part:
    """The part that was planned anew, locked; HoldsNoMore if anything was recorded or changed of it since."""
    row = locked(part)
    if row.revision != part.revision or row.state != Part.State.PLANNED:
        raise HoldsNoMore
    return row


def make_room(move: level.Move, *, why: str, by: User | str | None) -> Order | None:
    """Move a promised line of which nothing is sown; its order, if the customer must be told.

    Inside the transaction that holds the plan's lock, with the plan judged already; HoldsNoMore if it was sown.
    """
    line = orders.locked(OrderLine.objects.get(pk=move.key.removeprefix("line:")))
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
    keys = {plan.wish.key for plan in plans}
    ours = [each for each in check.conflicts(season, plans) if any(cause.owner in keys for cause in each.causes)]
    if ours:
        raise HoldsNoMore(conflicts=ours)


def paper(order: Order, *, by: User | str | None, draft: bool = False) -> None:
    """Have a (new) confirmation made and sent, once this transaction is committed.

    With `draft` its letter waits until a person has read it: it says another day than the customer was told.
    """
    if order.own_crop:
        return
    newest = history.of(order).values_list("pk", flat=True).first()  # each change of the order has its own paper
    payload = {"order": order.pk, "by": history.name_of(by), "draft": draft}
    enqueue("confirmation", f"confirmation:{order.pk}:{newest}", payload)


# --- moving what is promised ------------------------------------------------------------------------------------


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
        paper(row.order, by=by, draft=True)


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
    days = [stay.first for part in plan.parts for stay in part.stays]
    days += [work.day for part in plan.parts for work in part.works]
    return min(days) - timedelta(days=1)
