"""What could be promised: answers to lines that nobody has taken yet, and a no in words. Stores nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.utils.translation import gettext as _

from orders.line_faults import faults_of
from orders.models import Nursery, OrderLine
from orders.refusals import Refused

from .. import at_hand, bridge
from ..models import Part, Protocol
from ..planning import level, terms
from ..planning.claims import season_with
from ..planning.joining import Joined
from ..planning.promise import promise
from ..words import conflict_words, day_words
from . import joining as joins
from . import ways
from .joining import Joining


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
    faulty = [faults_of(line, today=today) for line in lines]
    found = bridge.current_protocols(lines)
    protocols = [None if faults else protocol for faults, protocol in zip(faulty, found, strict=True)]
    for line, faults, protocol in zip(lines, faulty, protocols, strict=True):
        if not faults and protocol is None and line.kind != OrderLine.Kind.ROOM:
            faults.append(_no_protocol(line))
    good = [number for number, faults in enumerate(faulty) if not faults]
    wishes = [_wish(lines[n], n, nursery, protocols[n]) for n in good]
    season = season or at_hand.season_of(today, nursery=nursery)
    answers = dict(zip(good, promise(season, wishes, closely=closely), strict=True))
    return [LineAnswer(line, tuple(faulty[n]), answers.get(n), protocols[n]) for n, line in enumerate(lines)]


def ways_out(answers: Sequence[LineAnswer], *, season: terms.Season, nursery: Nursery) -> list[ways.Out]:
    """For each answer, beside what those that fit would take: why not, and what could be done. Stores nothing.

    Which batch a line could join is looked for beside what those before it would join.
    """
    taken = season_with(season, [said.plan for said in answers if said.fits and said.plan])
    before: list[Joined] = []
    outs = []
    for said in answers:
        out = ways.Out()
        if said.answer:
            out = ways.out_of(said.line, said.answer, season=taken, nursery=nursery, before=before)
        before += [way.joins for way in out.ways if way.joins]
        outs.append(out)
    return outs


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


# --- once others make room ---------------------------------------------------------------------------------------


def with_room_made(
    lines: Sequence[OrderLine], today: date, moving: bool, joining: Sequence[Joining]
) -> tuple[list[LineAnswer], tuple[level.Move, ...]]:
    """Answers for lines where others move, or these join batches, if they do not fit; and how others move."""
    if not lines:
        return [], ()
    season = at_hand.season_of(today)
    answers = what_if(lines, today=today, season=season)
    if joining:
        return _with_lines_joining(answers, season, joining), ()
    return _with_others_moved(answers, season) if moving else (answers, ())


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


def _with_lines_joining(
    answers: Sequence[LineAnswer], season: terms.Season, wanted: Sequence[Joining]
) -> list[LineAnswer]:
    """The answers once every line that does not fit by itself has joined a batch. Refused if one cannot.

    Several may join the same batch; its plan is then, for each of them, the one for all.
    """
    nursery, found = Nursery.current(), list(answers)
    season = season_with(season, [said.plan for said in answers if said.fits and said.plan])
    grown: dict[int, Joined] = {}
    for number, said in enumerate(answers):
        answer = said.answer
        if answer and answer.plan and not answer.fits and not answer.impossible:
            part, joined = joins.way_into(wanted, said.line, answer, grown, season=season, nursery=nursery)
            season, grown[part.pk] = joined.taken(season), joined
            found[number] = replace(said, joins=(part, joined))
    return [_joined_with_all(said, grown) for said in found]


def _joined_with_all(said: LineAnswer, grown: Mapping[int, Joined]) -> LineAnswer:
    if said.joins is None or said.answer is None:
        return said
    part, joined = said.joins
    plan = grown[part.pk].plan
    fits = terms.Answer(said.answer.wish, fits=True, plan=plan)
    return replace(said, answer=fits, joins=(part, replace(joined, plan=plan)))


# --- a no in words -------------------------------------------------------------------------------------------


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
        % {"day": day_words(answer.wish.pickup), "why": " ".join(conflict_words(c) for c in answer.conflicts)},
        mend=_nearest_words(answer),
        field="pickup_asked",
    )


def _line_field(field: str) -> str:
    return "pickup_asked" if field == "pickup" else field


def _nearest_words(answer: terms.Answer) -> str:
    days = [day_words(plan.pickup) for plan in (answer.earlier, answer.later) if plan]
    if not days:
        return _("No day within two months fits; split the line or make room.")
    return _("It would fit on %(days)s.") % {"days": _(" or on ").join(days)}
