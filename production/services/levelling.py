"""Levelling the running season: asked for, computed as a job, and taken move by move.

The job levels a copy of the season, outside any transaction; nothing changes until moves are taken, in one
transaction, judged against what is then so.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from orders import services as orders
from orders import states
from orders.jobs import GiveUp, enqueue, handler
from orders.models import Nursery, Order, OrderLine, User
from orders.refusals import Refused

from .. import at_hand, bridge
from ..models import SeasonLevelling
from ..papers.confirmation import ask_for_confirmation
from ..planning import terms
from ..planning.filed import level_file, why_left_over
from ..planning.level import Effort, Levelled, Move, Progress
from ..planning.season_file import BadFile, SeasonFile, read_plan, read_season, write_plan, write_season
from ..planning.why_not import Obstacle, WhyNot
from ..words import conflict_words
from .common import lock_grown_for
from .judging import HoldsNoMore, judged, lock_the_plan
from .moving import make_room
from .season_files import running_season, wishes_now

EFFORT = Effort(rounds=2_000, exact=3.0)
LONGEST = 240.0  # seconds after which a run ends with the best so far; well within a job's lease
TELL_EVERY = 0.5  # seconds between two rows of progress
KEPT = 10  # runs

GOING_ON = (SeasonLevelling.State.WAITING, SeasonLevelling.State.RUNNING)


def newest() -> SeasonLevelling | None:
    return SeasonLevelling.objects.select_related("made_by").first()


def start(*, by: User | None, today: date, leave: Collection[str] = ()) -> SeasonLevelling:
    """Level the season as it stands now, as a job, and leave the lines with these keys as they are.

    Refused while another run goes on.
    """
    with transaction.atomic():
        nursery = lock_the_plan()
        if SeasonLevelling.objects.filter(state__in=GOING_ON).exists():
            raise Refused(_("A levelling is under way."), mend=_("Wait for it, or stop it first."))
        season = _but_for(running_season(today=today, nursery=nursery), leave)
        run = SeasonLevelling.objects.create(made_by=by, season=write_season(season))
        old = SeasonLevelling.objects.values_list("pk", flat=True)[KEPT:]
        SeasonLevelling.objects.filter(pk__in=list(old)).delete()
        enqueue("level_season", f"level_season:{run.pk}", {"levelling": run.pk})
    return run


def _but_for(file: SeasonFile, leave: Collection[str]) -> SeasonFile:
    """Without what is to be left alone; what promised lines take stays taken."""
    return replace(
        file,
        lines=tuple(wish for wish in file.lines if wish.key not in leave),
        promised=tuple(each for each in file.promised if each.plan.wish.key not in leave),
    )


def stop(run: SeasonLevelling) -> None:
    """End a run with the best it has found so far."""
    SeasonLevelling.objects.filter(pk=run.pk, state__in=GOING_ON).update(stop_asked=True)


def _given_up(payload: dict[str, Any], why: str) -> None:
    """A run that nobody levels any more goes on no longer, or there would never be another."""
    run = SeasonLevelling.objects.filter(pk=payload["levelling"], state__in=GOING_ON)
    run.update(state=SeasonLevelling.State.FAILED, trouble=why[:300])


@handler("level_season", given_up=_given_up)
def level_now(payload: dict[str, Any]) -> None:
    """Level what the run was asked of. Again from the beginning if a worker died over it."""
    run = SeasonLevelling.objects.filter(pk=payload["levelling"], state__in=GOING_ON).first()
    if run is None:
        return
    SeasonLevelling.objects.filter(pk=run.pk).update(state=SeasonLevelling.State.RUNNING)
    try:
        file = read_season(run.season)
        plan, found = level_file(file, EFFORT, watch=_watch(run))
        _keep(run, file, write_plan(plan), found)
    except BadFile as bad:
        raise GiveUp(str(bad.faults[0])) from bad
    except Exception as trouble:  # whatever it is, somebody waits for an answer, and nothing is lost
        raise GiveUp(str(trouble) or type(trouble).__name__) from trouble


def _watch(run: SeasonLevelling) -> Callable[[Progress], bool]:
    begun, told = time.monotonic(), 0.0

    def watch(progress: Progress) -> bool:
        nonlocal told
        now = time.monotonic()
        if now - told < TELL_EVERY:
            return now - begun < LONGEST
        told = now
        said = {"done": progress.done, "of": progress.of, "best": progress.best, "bound": progress.bound}
        mine = SeasonLevelling.objects.filter(pk=run.pk)
        mine.update(progress=said)
        return now - begun < LONGEST and not mine.filter(stop_asked=True).exists()

    return watch


def _keep(run: SeasonLevelling, file: SeasonFile, plan: str, found: Levelled) -> None:
    labels = {key: wish.label for key, wish in file.wishes.items()}
    promised = {each.plan.wish.key for each in file.promised}
    obstacles = why_left_over(file, found)
    SeasonLevelling.objects.filter(pk=run.pk).update(
        state=SeasonLevelling.State.DONE,
        plan=plan,
        moves=[_row(move, "promised" if move.key in promised else "asked") for move in found.moves],
        left_over=[{"label": labels[key], "why": why_words(why)} for key, why in obstacles.items()],
        before=found.before,
        cost=found.cost,
        proved=found.proved,
    )


def why_words(why: WhyNot) -> list[str]:
    """What stands in the way of a line, and how much more of it, with all the others, would do."""
    return [_obstacle_words(each) for each in why.obstacles]


def _obstacle_words(obstacle: Obstacle) -> str:
    said = conflict_words(obstacle.conflict)
    if obstacle.more is None:
        return said
    more = f"{obstacle.more:.2f}".rstrip("0").rstrip(".")
    if obstacle.conflict.resource == "hands":
        return _("%(what)s %(n)s hours more a day would do.") % {"what": said, "n": more}
    if obstacle.conflict.unit == "positions":
        return _("%(what)s %(n)s more would do.") % {"what": said, "n": more}
    return _("%(what)s %(n)s m² more would do.") % {"what": said, "n": more}


def _row(move: Move, was: str) -> dict[str, Any]:
    return {
        "key": move.key,
        "label": move.label,
        "words": move.words,
        "tells": move.tells.isoformat() if move.tells else None,
        "needs": list(move.needs),
        "was": was,
        "taken": False,
        "refused": False,
    }


# --- taking moves ----------------------------------------------------------------------------------------------


def take(run: SeasonLevelling, *, keys: Sequence[str], by: User | None, today: date) -> list[str]:
    """Carry out these moves with the ones that they need, all or none; the labels of what was moved.

    A line that was only asked for is promised by its move. Refused if the season changed so that they do not hold.
    """
    then = {plan.wish.key: plan for plan in read_plan(run.plan, read_season(run.season)).plans}
    with transaction.atomic():
        nursery = lock_the_plan()
        run = SeasonLevelling.objects.select_for_update().get(pk=run.pk)  # another may have taken or refused some
        rows = {row["key"]: row for row in run.moves}
        wanted = _with_needs(keys, rows)
        _none_refused(wanted, rows)
        in_turn = sorted(wanted, key=lambda key: (len(key), key))  # line:9 before line:10
        moves = [Move(key, rows[key]["label"], rows[key]["words"], then[key], None) for key in in_turn]
        lock_grown_for(bridge.line_of(key) for key in wanted)
        lines = {move.key: _locked(move, rows[move.key]["was"]) for move in moves}
        _refuse_changed(moves, nursery)
        season = at_hand.season_of(today, nursery=nursery).without(frozenset(wanted))
        try:
            judged([move.plan for move in moves], season, over_conflict="")
            told = [_carry_out(move, lines[move.key], by) for move in moves]
        except HoldsNoMore as found:
            raise _changed(*found.faults, *map(conflict_words, found.conflicts)) from None
        for order in {each for each in told if each}:
            ask_for_confirmation(order, by=by, draft=True)  # one letter an order, to be read before it is sent
        run.moves = [row | {"taken": row["taken"] or row["key"] in wanted} for row in run.moves]
        run.save(update_fields=["moves"])
    return [move.label for move in moves]


def _with_needs(keys: Sequence[str], rows: dict[str, dict[str, Any]]) -> set[str]:
    """The moves asked for and, in turn, all that they need, but for what was taken before."""
    wanted, ahead = set[str](), list(_known(keys, rows))
    while ahead:
        key = ahead.pop()
        if key not in wanted and not rows[key]["taken"]:
            wanted.add(key)
            ahead += rows[key]["needs"]
    if not wanted:
        raise Refused(_("Those moves are taken already."), field="moves")
    return wanted


def _known(keys: Collection[str], rows: dict[str, dict[str, Any]]) -> Collection[str]:
    """These keys, if each is that of a move, and there is one."""
    unknown = [key for key in keys if key not in rows]
    if unknown or not keys:
        raise Refused(
            _("No move was chosen.")
            if not keys
            else _("%(key)s is no move of this levelling.") % {"key": unknown[0]},
            mend=_("Choose one of the moves that are listed."),
            field="moves",
        )
    return keys


def _none_refused(wanted: Collection[str], rows: dict[str, dict[str, Any]]) -> None:
    for key in sorted(wanted):
        if rows[key].get("refused"):
            raise Refused(
                _("The move of %(line)s is needed for that, and you refused it.") % {"line": rows[key]["label"]},
                mend=_("Take it back into the list first, or choose others."),
                field="moves",
            )


def refuse(run: SeasonLevelling, *, keys: Collection[str], refused: bool = True) -> None:
    """Set moves aside, or take them back into the list. Refused for what is no move, or is taken already."""
    with transaction.atomic():
        run = SeasonLevelling.objects.select_for_update().get(pk=run.pk)
        rows = {row["key"]: row for row in run.moves}
        wanted = _known(keys, rows)
        if any(rows[key]["taken"] for key in wanted):
            raise Refused(_("Those moves are taken already."), field="moves")
        run.moves = [row | {"refused": refused} if row["key"] in wanted else row for row in run.moves]
        run.save(update_fields=["moves"])


def _locked(move: Move, was: str) -> OrderLine:
    """The line of a move, locked, if it is still promised, or only asked for, as it was then."""
    lines = OrderLine.objects.select_for_update(of=("self",))
    line = (
        lines.select_related("order__customer", "scion__crop", "rootstock__crop", "container")
        .filter(pk=bridge.line_of(move.key))
        .first()
    )
    if line is None:
        raise _changed(_("%(line)s is there no more.") % {"line": move.label})
    if line.state != (states.CONFIRMED if was == "promised" else states.ASKED):
        raise _changed(_("%(line)s is %(state)s now.") % {"line": line, "state": line.get_state_display()})
    return line


def _refuse_changed(moves: Sequence[Move], nursery: Nursery) -> None:
    """What asks for another day or other plants now, or is grown otherwise, was not levelled as it is."""
    now = wishes_now([move.key for move in moves], nursery=nursery)
    changed = [move for move in moves if _unnamed(now.get(move.key)) != _unnamed(move.plan.wish)]
    if changed:
        raise _changed(
            *(
                _("%(line)s now asks for another day or other plants, or is grown otherwise.")
                % {"line": move.label}
                for move in changed
            )
        )


def _unnamed(wish: terms.Wish | None) -> terms.Wish | None:
    """A wish without names, which may change and are words of a language."""
    if wish is None:
        return None
    recipe, scion, rootstock = wish.recipe, wish.scion, wish.rootstock
    return replace(
        wish,
        label="",
        recipe=recipe and replace(recipe, name=""),
        scion=scion and replace(scion, name=""),
        rootstock=rootstock and replace(rootstock, name=""),
    )


def _carry_out(move: Move, line: OrderLine, by: User | None) -> Order | None:
    """The order whose customer must be told."""
    if line.state == states.CONFIRMED:
        return make_room(move, why=_("the season was levelled"), by=by)
    protocol = None if line.kind == OrderLine.Kind.ROOM else bridge.current_protocol(line)
    bridge.store_line(line, move.plan, protocol)
    orders.mark_confirmed(line=line, pickup=move.plan.pickup, by=by, reason="")
    return line.order


def _changed(*why: str) -> Refused:
    said = [_("The season changed since it was levelled, and these moves no longer hold."), *why[:3]]
    return Refused(
        " ".join([*said, _("Nothing is moved.")]),
        mend=_("Level it again."),
        field="moves",
    )
