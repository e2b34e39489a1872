"""Plants that stand already on the first day: entered once, and from then on like all others.

Nothing is made up about their past: what is written down is how many stand where, since when, and in which stage.
The days before are reckoned from the protocol's usual nights only so that the clocks have something to go by.
"""

from __future__ import annotations

import math
import uuid
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from orders import history, states
from orders.line_faults import faults_of
from orders.models import CodeSeries, Container, OrderLine, User, Variety
from orders.refusals import ManyRefused, Refused
from orders.services import mark_confirmed, mark_growing, take_order

from .. import bridge
from ..models import Allocation, Batch, Count, Part, Place, Protocol, ProtocolStage, SeedLot, Sowing, Stay
from ..planning import terms
from ..words import day_words
from . import counts, replan
from .common import derived_id
from .joining import give_back
from .judging import lock_the_plan
from .stays import unit

OLDEST = 400  # days for which plants can have stood

Track = ProtocolStage.Track


@dataclass(frozen=True)
class Seedlings:
    """One side that stands: how many, sown when, from which lot (if that is known)."""

    plants: int
    sown_on: date
    lot: SeedLot | None = None


@dataclass(frozen=True)
class Standing:
    """What stands. `stage` is where grafted or plain plants are; seedlings that wait for their graft have none."""

    scion: Variety
    rootstock: Variety | None  # None: plants that are not grafted
    method: str
    plants: int
    container: Container  # in which they stand now
    place: Place
    entered_on: date  # the day on which they came to this place and stage
    pickup: date
    stage: ProtocolStage | None = None
    scion_side: Seedlings | None = None
    rootstock_side: Seedlings | None = None
    lots: tuple[SeedLot, ...] = ()

    @property
    def grafted(self) -> bool:
        return self.rootstock is not None


def enter_standing(
    *,
    what: Standing,
    by: User | None,
    today: date,
    line: OrderLine | None = None,
    own_crop: bool = False,
    key: uuid.UUID | None = None,
) -> Part:
    """Enter plants that stand, for an order line, as our own crop, or for nobody yet; the rest is planned.

    A line that was only asked for is confirmed by it; nothing is sent. The same `key` again gives the same part.
    Raises ManyRefused (scion, rootstock, method, plants, stage, place, entered_on, pickup, line).
    """
    first = Count.objects.filter(pk=derived_id(key, "standing")).first() if key else None
    if first:
        return first.part
    protocol = _protocol(what)
    _check(what, protocol, line, today)
    with transaction.atomic():
        lock_the_plan()
        line = _line_for(what, line, own_crop, by, today)
        part = _part(what, protocol, line)
        _stand(part, what, today)
        _counted(part, what, by, today, key)
        if line is not None:
            mark_growing(line=line, by=by)
        history.record(
            by=by, what="plants entered", subject=part.batch,
            text=_("%(n)s plants that stand in %(place)s entered") % {"n": what.plants, "place": what.place},
        )  # fmt: skip
        replan.touch(part)
    replan.roll_part(part.pk, today)
    part.refresh_from_db()
    return part


# --- what cannot be -----------------------------------------------------------------------------------------


def _protocol(what: Standing) -> Protocol:
    if what.stage is not None:
        return what.stage.protocol
    method = what.method if what.grafted else "plain"
    protocol = bridge.protocols().filter(crop=what.scion.crop_id, method=method, current=True).first()
    if protocol is None:
        raise Refused(
            _("There is no protocol yet for %(crop)s by this method.") % {"crop": what.scion.crop},
            mend=_("Choose another method, or make the protocol under Nursery, Protocols."),
            field="method",
        )
    return protocol


def _check(what: Standing, protocol: Protocol, line: OrderLine | None, today: date) -> None:
    refusals = faults_of(_as_line(what), today=today)
    if what.plants < 1:
        reason = _("%(n)s is no number of plants.") % {"n": what.plants}
        refusals.append(Refused(reason, mend=_("Count them."), field="plants"))
    refusals += [*_day_faults(what, today), *_stage_faults(what, protocol)]
    refusals += _line_faults(what, line) if line else []
    if refusals:
        fields = {"quantity": "plants", "pickup_asked": "pickup"}
        raise ManyRefused([Refused(r.reason, mend=r.mend, field=fields.get(r.field, r.field)) for r in refusals])


def _as_line(what: Standing) -> OrderLine:
    return OrderLine(
        kind=OrderLine.Kind.GRAFTED if what.grafted else OrderLine.Kind.PLAIN,
        scion=what.scion,
        rootstock=what.rootstock,
        method=what.method,
        container=what.container,
        quantity=max(what.plants, 1),
        pickup_asked=what.pickup,
    )


def _day_faults(what: Standing, today: date) -> list[Refused]:
    days = [("entered_on", what.entered_on)]
    for field, side in (("scion_sown_on", what.scion_side), ("rootstock_sown_on", what.rootstock_side)):
        days += [(field, side.sown_on)] if side else []
    refusals = []
    for field, day in days:
        if day > today:
            reason = _("%(day)s is still to come.") % {"day": day_words(day)}
            refusals.append(Refused(reason, mend=_("Choose a day up to today."), field=field))
        elif day < today - timedelta(days=OLDEST):
            reason = _("%(day)s is more than a year ago.") % {"day": day_words(day)}
            refusals.append(Refused(reason, mend=_("Check the year."), field=field))
    return refusals


def _stage_faults(what: Standing, protocol: Protocol) -> list[Refused]:
    if what.stage is None:
        if not (what.grafted and what.scion_side and what.rootstock_side):
            mend = _("Say how many of each side stand, and when they were sown.")
            return [Refused(_("Seedlings of one side only."), mend=mend, field="stage")]
        return []
    if protocol.crop_id != what.scion.crop_id or protocol.method != (what.method if what.grafted else "plain"):
        reason = _("This stage belongs to another crop or method.")
        return [Refused(reason, mend=_("Choose one of its own stages."), field="stage")]
    if not set(what.stage.place_kinds) & set(what.place.kinds):
        return [
            Refused(
                _("%(place)s is no place for plants at the stage “%(stage)s”.")
                % {"place": what.place, "stage": what.stage},
                mend=_("Choose another place, or add to what this place serves as."),
                field="place",
            )
        ]
    return []


def _line_faults(what: Standing, line: OrderLine) -> list[Refused]:
    if line.state not in (states.ASKED, states.HELD, states.CONFIRMED):
        state = line.get_state_display()
        reason = _("%(line)s is %(state)s already.") % {"line": line, "state": state}
        return [Refused(reason, mend=_("Choose a line that nothing was sown for."), field="line")]
    if (line.scion_id, line.rootstock_id) != (what.scion.pk, what.rootstock.pk if what.rootstock else None):
        reason = _("%(line)s asks for %(what)s.") % {"line": line, "what": line.what}
        return [Refused(reason, mend=_("Choose a line of the same varieties."), field="line")]
    return []


# --- the rows -----------------------------------------------------------------------------------------------


def _line_for(
    what: Standing, line: OrderLine | None, own_crop: bool, by: User | None, today: date
) -> OrderLine | None:
    if line is None and own_crop:
        line = take_order(customer=None, lines=[_as_line(what)], by=by, today=today, own_crop=True).lines.get()
    if line is None:
        return None
    if line.state in (states.CONFIRMED, states.HELD):
        give_back(line)  # what was to be sown for it is not sown any more
    if line.state != states.CONFIRMED:
        mark_confirmed(line=line, pickup=line.pickup or what.pickup, by=by)
    line.refresh_from_db()
    return line


def _part(what: Standing, protocol: Protocol, line: OrderLine | None) -> Part:
    batch = Batch.objects.create(
        code=f"B{CodeSeries.take('batch')}",
        kind=OrderLine.Kind.GRAFTED if what.grafted else OrderLine.Kind.PLAIN,
        scion=what.scion,
        rootstock=what.rootstock,
        method=what.method if what.grafted else "plain",
        protocol=protocol,
    )
    meant = min(what.plants, line.quantity) if line else what.plants
    part = Part.objects.create(
        batch=batch,
        state=Part.State.ALIVE,
        plants=meant,
        grafts=what.plants if what.grafted else 0,
        container=line.container if line else what.container,
        topped=line.topped if line else False,
        pickup=line.pickup if line and line.pickup else what.pickup,
        ready_day=what.pickup,
    )
    if line:
        Allocation.objects.create(part=part, line=line, quantity=meant)
    return part


def _stand(part: Part, what: Standing, today: date) -> None:
    """The sowings and the stand that is there."""
    protocol = part.batch.protocol
    assert protocol is not None
    stages = list(protocol.stages.all())
    if what.stage is None:
        for side, seedlings in _sides(what):
            sowing = _sowing(part, what, side, seedlings.sown_on, seedlings.plants, seedlings.lot, sown=True)
            stage = next(s for s in stages if s.track == side and s.kind == terms.RAISING)
            _stay(part, what, stage, side, seedlings.plants, sowing)
        return
    for side in (Track.ROOTSTOCK, Track.SCION) if what.grafted else (Track.PLAIN,):
        lot = next((lot for lot in what.lots if lot.variety_id == _variety(what, side).pk), None)
        sown_on = what.entered_on - timedelta(days=_nights_before(what.stage, stages, side))
        _sowing(part, what, side, sown_on, what.plants, lot, sown=not what.grafted)
    if what.grafted:
        part.graft_day = what.entered_on - timedelta(days=_nights_before(what.stage, stages))
        part.save(update_fields=["graft_day"])
    _stay(part, what, what.stage, "union" if what.grafted else "plain", what.plants, None)


def _sides(what: Standing) -> list[tuple[str, Seedlings]]:
    sides = ((Track.ROOTSTOCK, what.rootstock_side), (Track.SCION, what.scion_side))
    return [(side, seedlings) for side, seedlings in sides if seedlings]


def _nights_before(stage: ProtocolStage, stages: list[ProtocolStage], side: str = "") -> int:
    """The usual nights from the sowing of a side (without one, from the graft) to the beginning of a stage."""
    tracks = [track for track in (side, Track.UNION) if track]
    reached = (tracks.index(stage.track), stage.order)
    return sum(s.usual for s in stages if s.track in tracks and (tracks.index(s.track), s.order) < reached)


def _variety(what: Standing, side: str) -> Variety:
    return what.rootstock if side == Track.ROOTSTOCK and what.rootstock else what.scion


def _sowing(
    part: Part, what: Standing, side: str, day: date, plants: int, lot: SeedLot | None, *, sown: bool
) -> Sowing:
    return Sowing.objects.create(
        code=f"S{CodeSeries.take('sowing')}",
        part=part,
        subject=side,
        variety=_variety(what, side),
        lot=lot,
        container=what.container,
        day=day,
        seeds=plants,
        trays=_trays(plants, what.container),
        emerges=day,
        sown_on=day if sown else None,
    )


def _stay(
    part: Part, what: Standing, stage: ProtocolStage, subject: str, plants: int, sowing: Sowing | None
) -> None:
    trays = _trays(plants, what.container)
    Stay.objects.create(
        part=part,
        sowing=sowing,
        subject=subject,
        stage=stage.key,
        stage_kind=stage.kind,
        place=what.place,
        container=what.container,
        containers=trays,
        first=what.entered_on,
        nights=max(stage.usual, 1),
        load=trays * unit(what.container, what.place),
        entered=True,
    )


def _trays(plants: int, container: Container) -> int:
    return math.ceil(plants / container.plants)


def _counted(part: Part, what: Standing, by: User | None, today: date, key: uuid.UUID | None) -> None:
    """What is known: how many stand. The first row carries the id that makes a resend the same."""
    rows: list[tuple[str, int, Sowing | None, date]] = []
    for sowing in part.sowings.filter(sown_on__isnull=False):
        assert sowing.sown_on is not None
        rows.append((Count.Kind.SOWN, sowing.seeds, sowing, sowing.sown_on))
        rows.append((Count.Kind.EMERGED, sowing.seeds, sowing, what.entered_on))
        if what.stage is not None and what.stage.track == Track.UNION:
            rows.append((Count.Kind.USABLE, sowing.seeds, sowing, what.entered_on))
    if what.stage is not None and what.grafted:
        rows.append((Count.Kind.GRAFTED, what.plants, None, part.graft_day or what.entered_on))
        if what.stage.kind != terms.HEAL:
            rows.append((Count.Kind.TAKEN, what.plants, None, what.entered_on))
    for number, (kind, quantity, of, day) in enumerate(rows):
        counts.add(
            part=part, kind=kind, quantity=quantity, by=by, today=today, happened_on=day, sowing=of,
            reason=_("stood already"), count_id=derived_id(key, f"standing{number or ''}"),
        )  # fmt: skip
