"""Where plants really stand: recording that they came to a stage, and left the one before.

Real plants stand where they were last recorded until they are recorded elsewhere. A border of stages that asks for
no carrying (the same bench goes on) is crossed by itself on its day.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from orders.models import Container

from ..models import Part, Place, StageWork, Stay, Work
from ..planning import terms
from ..queries.works import CARRYING, SIDES, own_sowing, stands_of

SUBJECTS = ("rootstock", "scion", "plain", "union", "room")  # in the order of growing


@dataclass(frozen=True)
class Border:
    """The stage whose plants came to it with a piece of work, and the stands before it."""

    stage: str
    before: tuple[Stay, ...]
    into: tuple[Stay, ...]


def track(part: Part, subject: str, sowing: int | None = None) -> list[Stay]:
    """The stands that plants of this subject (on a side, of one sowing) go through, in order of nights."""
    return sorted(stands_of(part, subject, sowing), key=_in_order)


def _in_order(stay: Stay) -> tuple[date, date, int]:
    return stay.first, stay.leaves, stay.pk


def stages_of(stays: Iterable[Stay]) -> list[str]:
    return list(dict.fromkeys(stay.stage for stay in stays))


def border_of(work: Work) -> Border | None:
    """The border that plants cross when this work is done, if it carries them over one."""
    if work.kind not in CARRYING:
        return None
    stays = track(work.part, work.subject, work.sowing_id)
    stages = stages_of(stays)
    stage = _stage_begun(work, stages)
    if stage is None or stage not in stages:
        return None
    before = [stay for stay in stays if stages.index(stay.stage) < stages.index(stage)]
    if work.kind == terms.GRAFT:
        before = [stay for side in SIDES for stay in track(work.part, side)]
    return Border(stage, tuple(before), tuple(stay for stay in stays if stay.stage == stage))


def _stage_begun(work: Work, stages: Sequence[str]) -> str | None:
    rule = _rule(work)
    if rule is None or (not rule.at_end and not rule.after):
        if work.kind == terms.TAKE_OUT and _kind(work) == terms.HEAL:
            return _next(stages, work.stage)
        return work.stage
    if rule.at_end or work.kind == terms.TAKE_OUT:
        return _next(stages, work.stage)
    return None  # work within a stage


def _next(stages: Sequence[str], stage: str) -> str | None:
    following = stages[stages.index(stage) + 1 :] if stage in stages else ()
    return following[0] if following else None


def _kind(work: Work) -> str:
    return work.stage.rsplit("-", 1)[-1]


def _rule(work: Work) -> StageWork | None:
    """The protocol's line that asked for this work; None for work that goes by itself."""
    protocol = work.part.batch.protocol
    if protocol is None:
        return None
    for stage in protocol.stages.all():
        if stage.key == work.stage:
            return next((rule for rule in stage.works.all() if rule.kind == work.kind), None)
    return None


def cross(border: Border, day: date, place: Place | None = None) -> None:
    """Record that the plants came to the border's stage on `day`, leaving all they stood in before.

    A stand before it that was never entered was passed over: the plants stayed in the last one that was.
    """
    for stay in border.before:
        leave(stay, day)
    for stay in border.into:
        enter(stay, day, place)


def leave(stay: Stay, day: date) -> None:
    """The plants moved on during `day`; a stand that never was is no longer planned."""
    if stay.left:
        return
    if not stay.entered:
        stay.delete()
        return
    stay.nights, stay.left = max(0, (day - stay.first).days), True
    stay.save()


def enter(stay: Stay, day: date, place: Place | None = None) -> None:
    if stay.entered:
        return
    stay.nights = max(1, (stay.leaves - day).days)
    stay.first, stay.entered = day, True
    if place is not None and place.pk != stay.place_id:
        stay.load = stay.load / unit(stay.container, stay.place) * unit(stay.container, place)
        stay.place = place
    stay.save()


def unit(container: Container, place: Place) -> float:
    """What one container takes of a place, in the place's measure."""
    return container.positions if place.measure == Place.Measure.POSITIONS else container.area


def leave_all(part: Part, day: date) -> None:
    """The plants are gone: every stand ends on `day`, and none that was planned begins."""
    for stay in part.stays.all():
        leave(stay, day)


def borders_due(part: Part, today: date) -> bool:
    """Whether plants were to enter any stage by today and are not recorded there."""
    return any(not stay.entered and stay.first <= today for stay in part.stays.all())


def crossings_due(part: Part, today: date) -> Iterator[tuple[Border, date]]:
    """The borders that ask for no carrying and are due by today, each with its day; found as they are crossed."""
    if not borders_due(part, today):
        return
    pending = {
        (border.stage, work.subject, own_sowing(work.subject, work.sowing_id))
        for work in part.works.all()
        if work.state == Work.State.PLANNED and (border := border_of(work))
    }
    tracks = dict.fromkeys((stay.subject, own_sowing(stay.subject, stay.sowing_id)) for stay in part.stays.all())
    for subject, sowing in sorted(tracks, key=lambda each: (SUBJECTS.index(each[0]), each[1] or 0)):
        stays = track(part, subject, sowing)
        stages = stages_of(stays)
        for stage in stages:
            into = [stay for stay in stays if stay.stage == stage]
            if all(stay.entered for stay in into):
                continue
            day = min(stay.first for stay in into)
            if (stage, subject, sowing) in pending or day > today:
                break
            before = [stay for stay in stays if stages.index(stay.stage) < stages.index(stage)]
            yield Border(stage, tuple(before), tuple(into)), day


def cross_by_itself(part: Part, today: date) -> bool:
    """Let plants cross, on its planned day, each border that asks for no carrying; whether any did."""
    crossed = False
    for border, day in crossings_due(part, today):
        cross(border, day)
        crossed = True
    return crossed


def put_together(stay: Stay, *, containers: int, day: date, place: Place | None = None) -> Stay:
    """From `day` on, the stand takes so many containers, here or in another place; the nights before stay."""
    place = place or stay.place
    room = stay.load / (stay.containers * unit(stay.container, stay.place))  # topped plants may take more
    changes = {
        "containers": containers,
        "place": place,
        "load": containers * unit(stay.container, place) * room,
    }
    if stay.first >= day:
        for field, value in changes.items():
            setattr(stay, field, value)
        stay.save()
        return stay
    leaves = max(stay.leaves, day + timedelta(days=1))
    stay.nights, stay.left = (day - stay.first).days, True
    stay.save()
    copy = Stay.objects.get(pk=stay.pk)
    copy.pk, copy.left, copy.first, copy.nights = None, False, day, (leaves - day).days
    for field, value in changes.items():
        setattr(copy, field, value)
    copy._state.adding = True
    copy.save()
    return copy


def standing(part: Part) -> list[Stay]:
    """The stands that are taken now: entered and not left."""
    return [stay for stay in part.stays.all() if stay.entered and not stay.left]
