"""Changing protocols. A version that a batch was planned with stays as it is: changing it makes a new version."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import models, transaction
from django.utils.translation import gettext as _

from orders import history
from orders.models import Crop, Method, User
from orders.refusals import ManyRefused, Refused

from ..models import Protocol, ProtocolStage, StageWork
from ..planning import terms

Values = Mapping[str, Any]

PROTOCOL_FIELDS = (
    "topping_shortest", "topping_usual", "topping_longest", "topped_room", "take_share", "take_weight",
    "kept_share", "kept_weight", "keeping_nights", "rootstock_sowings", "scion_sowings", "sown_apart", "basis",
    "published",
)  # fmt: skip
STAGE_FIELDS = (
    "track", "kind", "name", "place_kinds", "container", "shortest", "usual", "longest", "temperature", "humidity",
    "light", "basis", "published",
)  # fmt: skip
WORK_FIELDS = (
    "kind", "skill", "per_hour", "helper_skill", "part", "after", "at_end", "care", "note",
)  # fmt: skip
SEEDLING_STAGES = [terms.GERMINATING, terms.RAISING]
GRAFTED_STAGES = (SEEDLING_STAGES, [*SEEDLING_STAGES, terms.COLD_HOLD])  # of each side before the graft


@dataclass(frozen=True, slots=True)
class StageDraft:
    values: Values  # of STAGE_FIELDS
    works: tuple[Values, ...]  # of WORK_FIELDS, in order


@dataclass(frozen=True, slots=True)
class Draft:
    """A protocol as it is to be: stages in their order within each track."""

    values: Values  # of PROTOCOL_FIELDS
    stages: tuple[StageDraft, ...]

    def track(self, track: str) -> list[StageDraft]:
        return [stage for stage in self.stages if stage.values["track"] == track]


def draft_of(protocol: Protocol) -> Draft:
    """The protocol as it is, to change and hand to `revise`."""
    stages = protocol.stages.select_related("container").prefetch_related("works__skill", "works__helper_skill")
    return Draft(
        _values(protocol, PROTOCOL_FIELDS),
        tuple(
            StageDraft(
                _values(stage, STAGE_FIELDS), tuple(_values(work, WORK_FIELDS) for work in stage.works.all())
            )
            for stage in stages
        ),
    )


def _values(record: models.Model, names: Sequence[str]) -> Values:
    return {name: getattr(record, name) for name in names}


def revise(*, protocol: Protocol, draft: Draft, by: User | None) -> Protocol:
    """The protocol as drafted: a new version if any batch was planned with this one, else this one changed.

    Batches keep the version they were planned with, so that no confirmed order changes; the next promise uses the
    new one. Refused for an older version and for a draft that could not be planned with.
    """
    with transaction.atomic():
        protocol = Protocol.objects.select_for_update().get(pk=protocol.pk)
        _check(protocol, draft)
        before = draft_of(protocol)
        changes = list(differences(before, draft))
        if not changes:
            return protocol
        used = protocol.batches.exists()
        revised = _next_version(protocol, by) if used else protocol
        _write(revised, draft)
        what = "protocol revised" if used else "protocol changed"
        history.record(by=by, what=what, subject=revised, code=_code(revised), text="; ".join(changes) + ".")
    return revised


def copy(*, protocol: Protocol, crop: Crop, method: str, by: User | None) -> Protocol:
    """The same protocol for another crop or method, to be changed from there."""
    with transaction.atomic():
        if Protocol.objects.filter(crop=crop, method=method).exists():
            raise Refused(
                _("There is a protocol for that crop and method."), mend=_("Change that one."), field="method"
            )
        if (method == Method.PLAIN) != (protocol.method == Method.PLAIN):
            raise Refused(
                _("Plants that are not grafted go through other stages than grafts."),
                mend=_("Copy a protocol of the same kind."),
                field="method",
            )
        made = Protocol(crop=crop, method=method, created_by=by.shown_name if by else "")
        _write(made, draft_of(protocol))
        text = _("Begun from %(protocol)s.") % {"protocol": protocol}
        history.record(by=by, what="protocol made", subject=made, code=_code(made), text=text)
    return made


def _next_version(protocol: Protocol, by: User | None) -> Protocol:
    Protocol.objects.filter(pk=protocol.pk).update(current=False)
    versions = Protocol.objects.filter(crop=protocol.crop_id, method=protocol.method)
    latest = versions.aggregate(latest=models.Max("version"))["latest"]
    return Protocol(
        crop=protocol.crop,
        method=protocol.method,
        version=latest + 1,
        created_by=by.shown_name if by else "",
    )


def _write(protocol: Protocol, draft: Draft) -> None:
    for name, value in draft.values.items():
        setattr(protocol, name, value)
    protocol.save()
    protocol.stages.all().delete()
    for track in ProtocolStage.Track.values:
        for order, stage in enumerate(draft.track(track), start=1):
            row = ProtocolStage.objects.create(protocol=protocol, order=order, **stage.values)
            StageWork.objects.bulk_create(
                StageWork(stage=row, order=number, **work) for number, work in enumerate(stage.works, start=1)
            )


def _code(protocol: Protocol) -> str:
    return f"{protocol} {protocol.version}"[:40]


# --- what a draft must hold --------------------------------------------------------------------------------


def _check(protocol: Protocol, draft: Draft) -> None:
    if not protocol.current:
        raise Refused(
            _("This version has been replaced."), mend=_("Change the present one; this one stays as it was.")
        )
    faults = [*_track_faults(protocol, draft)]
    for number, stage in enumerate(draft.stages):
        faults += _stage_faults(f"stages.{number}", stage)
    if faults:
        raise ManyRefused(faults)


def _track_faults(protocol: Protocol, draft: Draft) -> Iterator[Refused]:
    plain = protocol.method == Method.PLAIN
    for track in ["plain"] if plain else ["rootstock", "scion"]:
        kinds, label = [stage.values["kind"] for stage in draft.track(track)], ProtocolStage.Track(track).label
        if kinds not in ((SEEDLING_STAGES,) if plain else GRAFTED_STAGES):
            yield Refused(
                _("%(track)s: germinating and raising are both needed, and nothing else but cold holding.")
                % {"track": label},
                mend=_("Put later stages after the graft."),
                field="stages",
            )
        if any(stage.values["usual"] for stage in draft.track(track)[2:]):
            yield Refused(
                _("%(track)s: cold holding is kept for need, so that its usual nights are 0.") % {"track": label},
                field="stages",
            )
    if not draft.track("union"):
        yield Refused(
            _("No stage follows raising."), mend=_("Keep at least one, such as growing on."), field="stages"
        )


def _stage_faults(field: str, stage: StageDraft) -> Iterator[Refused]:
    values = stage.values
    if not values["shortest"] <= values["usual"] <= values["longest"]:
        yield Refused(
            _("%(stage)s: the usual nights must lie between the shortest and the longest.")
            % {"stage": values["name"]},
            field=f"{field}.usual",
        )
    for work in stage.works:
        if not work["at_end"] and work["after"] > values["longest"]:
            yield Refused(
                _("%(stage)s: “%(work)s” falls %(after)d nights after it begins, beyond its longest %(longest)d.")
                % {
                    "stage": values["name"],
                    "work": StageWork.Kind(work["kind"]).label,
                    "after": work["after"],
                    "longest": values["longest"],
                },
                mend=_("Set the work earlier, or on the day the stage ends."),
                field=f"{field}.works",
            )


# --- what changed, in words --------------------------------------------------------------------------------


def differences(before: Draft, after: Draft) -> Iterator[str]:
    """What a revision changes, in words: 'Healing: usual nights 4 → 6'."""
    yield from _value_differences(Protocol, "", before.values, after.values)
    for track in ProtocolStage.Track.values:
        old, new = before.track(track), after.track(track)
        if [stage.values["kind"] for stage in old] != [stage.values["kind"] for stage in new]:
            names = ", ".join(str(stage.values["name"]) for stage in new)
            yield _("stages are now %(names)s") % {"names": names}
            continue
        for one, other in zip(old, new, strict=True):
            yield from _value_differences(ProtocolStage, f"{other.values['name']}: ", one.values, other.values)
            if one.works != other.works:
                yield _("%(stage)s: work changed") % {"stage": other.values["name"]}


def _value_differences(model: type[models.Model], where: str, old: Values, new: Values) -> Iterator[str]:
    for name, value in new.items():
        if old[name] == value:
            continue
        label = model._meta.get_field(name).verbose_name  # type: ignore[union-attr]
        if isinstance(value, int | float) and isinstance(old[name], int | float):
            yield f"{where}{label} {old[name]:g} → {value:g}"
        else:
            yield f"{where}{label}"
