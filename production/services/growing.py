"""Work as it is done: one piece, or a whole part of the day 'as planned, except…', or not today.

Doing work marks it done, writes the count that its kind asks for, moves the plants over the border they cross, and
lets the part's line grow; then what follows is planned again (see replan).
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders import history, states
from orders.models import Nursery, User
from orders.refusals import ManyRefused, Refused
from orders.services import mark_growing

from .. import bridge
from ..models import Count, Part, Place, SeedLot, Sowing, Stay, Work
from ..planning import terms
from ..queries.tally import Tally, tally_of
from ..queries.works import ASKS, as_planned, own_sowing, which_sowing, with_all
from ..words import day_words
from . import counts, replan, stays
from .common import derived_id, locked
from .readiness import record_ready
from .seed import lot_to_sow

# Work that a whole part of the day cannot sweep along: the customer comes when the customer comes.
ONE_BY_ONE = frozenset({terms.HAND_OVER})


@dataclass(frozen=True)
class Recorded:
    """What a submit did: the works it recorded, and those that were recorded before."""

    done: tuple[Work, ...] = ()
    already: tuple[Work, ...] = ()


@dataclass(frozen=True)
class _Doing:
    """One piece of work as somebody says it was done."""

    by: User | None
    today: date
    happened_on: date
    count: int | None = None
    reason: str = ""
    lot: SeedLot | None = None
    place: Place | None = None
    count_id: uuid.UUID = field(default_factory=uuid.uuid4)


def do_work(
    *,
    work: Work,
    by: User | None,
    today: date,
    happened_on: date | None = None,
    count: int | None = None,
    reason: str = "",
    lot: SeedLot | None = None,
    place: Place | None = None,
    count_id: uuid.UUID | None = None,
) -> Work:
    """Record one piece of work as done, with what was counted (None: as planned).

    `reason` says why fewer were counted than were there, `lot` which seed was sown, `place` where the plants were
    really put. The same `count_id` again changes nothing. Raises Refused (count, lot, happened_on or '').
    """
    doing = _Doing(by, today, happened_on or today, count, reason, lot, place, count_id or uuid.uuid4())
    with transaction.atomic():
        work, changed = _record(work, doing)
    if changed:
        replan.roll_part(work.part_id, today)
        work.refresh_from_db()
    return work


def do_all_as_planned(
    *,
    works: Iterable[Work],
    by: User | None,
    today: date,
    unless: Collection[int] = (),
    numbers: Mapping[int, int] | None = None,
    key: uuid.UUID | None = None,
) -> Recorded:
    """Record all these works as done as planned, but those in `unless`, and with other `numbers` where given.

    One transaction: all or nothing. The same `key` again does nothing twice. Raises ManyRefused, whose fields are
    'work-<id>'.
    """
    numbers = numbers or {}
    wanted = [work for work in works if work.pk not in unless and work.kind not in ONE_BY_ONE]
    done: list[Work] = []
    already: list[Work] = []
    refusals: list[Refused] = []
    with transaction.atomic():
        for work in _in_order(wanted):
            doing = _Doing(by, today, today, numbers.get(work.pk), count_id=derived_id(key, work.pk))
            try:
                row, changed = _record(work, doing)
                (done if changed else already).append(row)
            except Refused as refusal:
                refusals.append(Refused(refusal.reason, mend=refusal.mend, field=f"work-{work.pk}"))
        if refusals:
            raise ManyRefused(refusals)
    replan.roll_parts((work.part_id for work in done), today)
    return Recorded(tuple(done), tuple(already))


def _in_order(works: Iterable[Work]) -> list[Work]:
    """In the order of growing, so that what one piece of work counts is there for the next."""
    return sorted(
        works,
        key=lambda work: (
            work.part_id,
            stays.SUBJECTS.index(work.subject),
            work.sowing_id or 0,
            work.stage,
            terms.WORK_KINDS.index(work.kind),
        ),
    )


def put_off(*, work: Work, by: User | None, today: date, until: date | None = None) -> Work:
    """Not today: the work is planned for the next day on which it may be done, and what follows moves with it."""
    until = until or _next_day(work, today)
    with transaction.atomic():
        part = locked(work.part)
        work = with_all(Work.objects.filter(pk=work.pk)).get()
        if work.state != Work.State.PLANNED:
            raise Refused(_("This is done already."), mend=_("Correct its count on the batch's page."))
        if until <= today:
            raise Refused(_("This day is not after today."), mend=_("Choose a later one."), field="until")
        work.day = until
        work.save(update_fields=["day"])
        history.record(
            by=by, what="work put off", subject=part.batch, work=work.pk,
            text=_("%(work)s put off to %(day)s") % {"work": work.get_kind_display(), "day": day_words(until)},
        )  # fmt: skip
        replan.touch(part)
    replan.roll_part(part.pk, today, not_before=until)
    work.refresh_from_db()
    return work


def _next_day(work: Work, today: date) -> date:
    calendar = bridge.calendar_of(Nursery.current())
    day = today + timedelta(days=1)
    while not work.care and not calendar.is_open(day):
        day += timedelta(days=1)
    return day


# --- one piece of work --------------------------------------------------------------------------------------


def _record(work: Work, doing: _Doing) -> tuple[Work, bool]:
    """Record inside the caller's transaction; False when it was recorded before."""
    part = locked(work.part)
    work = with_all(Work.objects.filter(pk=work.pk)).get()
    if work.state == Work.State.DONE:
        _check_same(work, doing)
        return work, False
    tally = tally_of(part)
    _check_may_be_done(work, doing, tally)
    if work.kind == terms.SOW and doing.count == 0 and _is_sown_otherwise(work):
        _leave_out(work, doing)
        replan.touch(part)
        return work, True
    stays.cross_by_itself(work.part, doing.happened_on)
    _count(work, doing, tally)
    _move_plants(work, doing)
    _mark_done(work, doing)
    _come_alive(work, doing)
    replan.touch(part)
    return work, True


def _check_same(work: Work, doing: _Doing) -> None:
    """A resend is fine; another number for work that is done needs a correction."""
    if doing.count is None or work.done_plants in (None, doing.count):
        return
    raise Refused(
        _("This was recorded already, with %(n)s.") % {"n": work.done_plants},
        mend=_("Correct the count on the batch's page."),
        field="count",
    )


def _check_may_be_done(work: Work, doing: _Doing, tally: Tally) -> None:
    if work.state == Work.State.DROPPED or work.part.state in (Part.State.GONE, Part.State.DROPPED):
        raise Refused(_("This work is no longer to be done."), mend=_("Open Today again."))
    if work.kind == terms.HAND_OVER and work.subject != "room":
        raise Refused(_("Plants are handed over to a customer."), mend=_("Record it on the line's own page."))
    _check_day(work, doing, tally)
    _check_word_given(work)
    if work.subject == "union" and work.kind != terms.GRAFT and tally.grafted is None:
        raise Refused(
            _("The grafts of %(part)s are not recorded yet.") % {"part": work.part}, mend=_("Record them first.")
        )
    if _of_seedlings(work) and work.kind != terms.SOW and work.sowing and work.sowing.sown_on is None:
        raise Refused(
            _("%(name)s (%(code)s) is not recorded as sown.")
            % {"name": work.sowing.variety, "code": work.sowing.code},
            mend=_("Record the sowing first."),
        )


def _of_seedlings(work: Work) -> bool:
    return work.subject in Sowing.Subject.values


def _check_day(work: Work, doing: _Doing, tally: Tally) -> None:
    if doing.happened_on > doing.today:
        raise Refused(
            _("%(day)s is still to come.") % {"day": day_words(doing.happened_on)},
            mend=_("Record it when it is done."),
            field="happened_on",
        )
    begun = work.sowing.sown_on if work.sowing and work.kind != terms.SOW else None
    begun = tally.grafted_on if work.subject == "union" else begun
    if begun and doing.happened_on < begun:
        raise Refused(
            _("These plants were begun on %(day)s.") % {"day": day_words(begun)},
            mend=_("Choose that day or a later one."),
            field="happened_on",
        )


def _check_word_given(work: Work) -> None:
    """Seed is sown for lines that are confirmed; until then their room is only held."""
    if work.kind != terms.SOW:
        return
    lines = [allocation.line for allocation in work.part.allocations.all()]
    unsure = [line for line in lines if line.state not in states.PROMISED]
    if lines and len(unsure) == len(lines):
        raise Refused(
            _("%(line)s is not confirmed yet.") % {"line": unsure[0]}, mend=_("Confirm it first, then sow.")
        )


# --- what it brings about -----------------------------------------------------------------------------------


def _count(work: Work, doing: _Doing, tally: Tally) -> None:
    kind = ASKS.get(work.kind)
    if kind is None:
        work.done_plants = work.plants if doing.count is None else doing.count
        return
    number = as_planned(work, tally) if doing.count is None else doing.count
    if work.kind == terms.SOW:
        _sow(work, doing, number)
    if kind == Count.Kind.READY:
        record_ready(
            part=work.part, quantity=number, by=doing.by, today=doing.today, happened_on=doing.happened_on,
            work=work, reason=doing.reason, count_id=doing.count_id,
        )  # fmt: skip
    else:
        _check_something(work, number)
        counts.add(
            part=work.part, kind=kind, quantity=number, by=doing.by, today=doing.today,
            happened_on=doing.happened_on, sowing=work.sowing if kind in counts.OF_A_SOWING else None,
            work=work, reason=doing.reason, count_id=doing.count_id,
        )  # fmt: skip
    work.done_plants = number


def _check_something(work: Work, number: int) -> None:
    if number == 0 and work.kind in (terms.SOW, terms.GRAFT):
        raise Refused(_("Nothing was done."), mend=_("Write how many, or choose “Not today”."), field="count")


def _is_sown_otherwise(work: Work) -> bool:
    """Whether its side is sown several times, so that it can do without this one."""
    own = work.sowing
    return own is not None and any(s.subject == own.subject and s.pk != own.pk for s in work.part.sowings.all())


def _leave_out(work: Work, doing: _Doing) -> None:
    """No seed was sown: this sowing is not to come any more, with all that was planned of it."""
    sowing = work.sowing
    assert sowing is not None
    history.record(
        by=doing.by, what="sowing left out", subject=work.part.batch, work=work.pk, part=work.part.number,
        text=_("%(variety)s, %(which)s, is left out: %(n)s seeds were planned")
        % {"variety": sowing.variety, "which": which_sowing(work.part, sowing.pk), "n": sowing.seeds},
    )  # fmt: skip
    work.sowing, work.state, work.done_plants = None, Work.State.DROPPED, 0
    work.save(update_fields=["sowing", "state", "done_plants"])
    sowing.delete()


def _sow(work: Work, doing: _Doing, seeds: int) -> None:
    sowing = work.sowing
    if sowing is None:
        raise Refused(_("This work names no sowing."), mend=_("Plan the batch again."))
    sowing.lot = lot_to_sow(sowing, seeds=seeds, today=doing.happened_on, wanted=doing.lot)
    sowing.sown_on = doing.happened_on
    sowing.save(update_fields=["lot", "sown_on"])


def _move_plants(work: Work, doing: _Doing) -> None:
    border = stays.border_of(work)
    if border is not None:
        stays.cross(border, doing.happened_on, doing.place)
        _drop_passed(work, border)


def _drop_passed(work: Work, border: stays.Border) -> None:
    """What was still to do in stages that the plants have left cannot be done any more.

    Counting still can, though nobody counts seedlings once they are grafted; and wherever the plants wait, they
    are still to be handed over.
    """
    passed = {(stay.subject, own_sowing(stay.subject, stay.sowing_id), stay.stage) for stay in border.before}
    for other in work.part.works.all():
        if other.pk == work.pk or other.state != Work.State.PLANNED:
            continue
        lasting = other.kind == terms.HAND_OVER or (other.kind in ASKS and work.kind != terms.GRAFT)
        track = other.subject, own_sowing(other.subject, other.sowing_id), other.stage
        if track in passed and not lasting:
            other.state = Work.State.DROPPED
            other.save(update_fields=["state"])


def _mark_done(work: Work, doing: _Doing) -> None:
    work.state, work.done_on, work.recorded_at = Work.State.DONE, doing.happened_on, timezone.now()
    work.done_by = doing.by.shown_name if doing.by else ""
    work.save()
    if work.kind in ASKS:
        return  # the count that it asked for is in the history already
    what = f"{work.get_kind_display()} ({work.sowing.variety})" if work.sowing else work.get_kind_display()
    history.record(
        by=doing.by, what="work done", subject=work.part.batch, work=work.pk,
        text=_("%(work)s: %(n)s") % {"work": what, "n": work.done_plants},
        part=work.part.number, happened_on=str(doing.happened_on),
    )  # fmt: skip


def _come_alive(work: Work, doing: _Doing) -> None:
    part = work.part
    if work.kind != terms.SOW or part.state != Part.State.PLANNED:
        return
    part.state = Part.State.ALIVE
    part.save(update_fields=["state"])
    for allocation in part.allocations.all():
        mark_growing(line=allocation.line, by=doing.by)


# --- trays put together -------------------------------------------------------------------------------------


def regroup(
    *, part: Part, stand: int, containers: int, by: User | None, today: date, place: Place | None = None
) -> None:
    """From today the stand (a Stay's id) takes so many containers, here or in another place it can stand in.

    Raises Refused (containers) when the plants do not fit into so few, or there are more than before.
    """
    with transaction.atomic():
        part = locked(part)
        stay = next((stay for stay in stays.standing(part) if stay.pk == stand), None)
        if stay is None:
            raise Refused(_("Nothing stands there any more."), mend=_("Open the batch again."), field="stand")
        _check_regroup(part, stay, containers)
        before = f"{stay.containers} × {stay.container}, {stay.place}"
        new = stays.put_together(stay, containers=containers, day=today, place=place)
        history.record(
            by=by, what="trays put together", subject=part.batch,
            text=_("%(before)s → %(n)s × %(container)s, %(place)s")
            % {"before": before, "n": containers, "container": new.container, "place": new.place},
        )  # fmt: skip
        replan.touch(part)
    replan.roll_part(part.pk, today)


def _check_regroup(part: Part, stay: Stay, containers: int) -> None:
    here = stays.standing(part)
    together = [each for each in here if (each.subject, each.sowing_id) == (stay.subject, stay.sowing_id)]
    others = sum(each.containers for each in together if each.pk != stay.pk)
    tally = tally_of(part)
    own = [t for t in tally.side(stay.subject) if stay.sowing_id in (None, t.sowing.pk)]
    plants = sum(t.seedlings for t in own) if tally.grafted is None else tally.alive
    need = -(-plants // stay.container.plants) - others
    if not max(1, need) <= containers:
        raise Refused(
            _("%(n)s plants need at least %(need)s of these trays.") % {"n": plants, "need": max(1, need)},
            mend=_("Write that many or more."),
            field="containers",
        )
