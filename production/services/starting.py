"""Gives an empty nursery its starting values: skills, trays and pots, crops and their protocols."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from orders import history
from orders.models import Container, Crop, User
from orders.refusals import Refused

from ..models import Protocol, ProtocolStage, Skill, StageWork
from ..starting.containers import CONTAINERS
from ..starting.crops import CROPS
from ..starting.protocols import StartingProtocol, starting_protocols
from ..starting.stages import SKILLS, StartingStage

Crops = Mapping[str, Crop]


@dataclass(frozen=True, slots=True)
class Installed:
    """What stands in the nursery now, by the keys of `production.starting`."""

    skills: Mapping[str, Skill]
    containers: Mapping[str, Container]
    crops: Crops


@transaction.atomic
def install(*, by: User | None, choices: Collection[str] | None = None) -> Installed:
    """Add the starting values of the crops chosen (keys of CROPS; None: all), with the rootstock crops they need.

    What is there already, by name, is left as it is, so that it can be run again for one more crop.
    """
    wanted = _with_rootstocks(CROPS if choices is None else choices)
    installed = Installed(skills=skills(), containers=containers(), crops=_crops(wanted, by))
    for starting in starting_protocols():
        if starting.crop in wanted:
            _install_protocol(starting, installed, by)
    return installed


def skills() -> dict[str, Skill]:
    return {key: Skill.objects.get_or_create(name=str(name))[0] for key, name in SKILLS.items()}


def containers() -> dict[str, Container]:
    made = {}
    for key, starting in CONTAINERS.items():
        length, width = starting.outside
        made[key], _new = Container.objects.get_or_create(
            name=str(starting.name),
            defaults={
                "kind": starting.kind,
                "plants": starting.plants,
                "length_cm": round(length, 1),
                "width_cm": round(width, 1),
                "cell_volume_ml": starting.cell_volume_ml,
                "for_delivery": starting.for_delivery,
            },
        )
    return made


def _with_rootstocks(choices: Collection[str]) -> list[str]:
    """The crops chosen and what they grow on, in the order of CROPS."""
    unknown = set(choices) - set(CROPS)
    if unknown:
        raise Refused(
            _("There are no starting values for %(crops)s.") % {"crops": ", ".join(sorted(unknown))},
            mend=_("Choose from the list, or make the crop yourself."),
            field="crops",
        )
    needed = set(choices) | {key for choice in choices for key in CROPS[choice].rootstocks[:1]}
    return [key for key in CROPS if key in needed]


def _crops(wanted: Collection[str], by: User | None) -> dict[str, Crop]:
    made = {}
    for key in wanted:
        crop, new = Crop.objects.get_or_create(name=str(CROPS[key].name), defaults=CROPS[key].values)
        made[key] = crop
        if new:
            history.record(
                by=by, what="crop made", subject=crop, code=crop.name, text=_("With its starting values.")
            )
    for key, crop in made.items():
        crop.rootstock_crops.add(*(made[other] for other in CROPS[key].rootstocks if other in made))
    return made


def _install_protocol(starting: StartingProtocol, installed: Installed, by: User | None) -> None:
    crop = installed.crops[starting.crop]
    if Protocol.objects.filter(crop=crop, method=starting.method).exists():
        return
    protocol = Protocol.objects.create(
        crop=crop,
        method=starting.method,
        take_share=starting.take,
        keeping_nights=starting.keeping,
        basis=str(starting.basis),
        published=str(starting.published),
        created_by=by.shown_name if by else "",
    )
    _install_stages(protocol, starting, installed)
    history.record(
        by=by, what="protocol made", subject=protocol, code=str(protocol), text=_("With starting values.")
    )


def _install_stages(protocol: Protocol, starting: StartingProtocol, installed: Installed) -> None:
    numbered = [
        (track, order, stage)
        for track, stages in starting.stages.items()
        for order, stage in enumerate(stages, start=1)
    ]
    made = ProtocolStage.objects.bulk_create(_stage(protocol, *each, installed) for each in numbered)
    StageWork.objects.bulk_create(
        work
        for row, (_track, _order, stage) in zip(made, numbered, strict=True)
        for work in _works(row, stage, installed)
    )


def _stage(
    protocol: Protocol, track: str, order: int, starting: StartingStage, installed: Installed
) -> ProtocolStage:
    shortest, usual, longest = starting.nights
    return ProtocolStage(
        protocol=protocol,
        track=track,
        order=order,
        kind=starting.kind,
        name=str(starting.name),
        place_kinds=list(starting.place_kinds),
        container=installed.containers[starting.container] if starting.container else None,
        shortest=shortest,
        usual=usual,
        longest=longest,
        temperature=starting.temperature,
        humidity=starting.humidity,
        light=str(starting.light),
        basis=str(starting.basis),
        published=str(starting.published),
    )


def _works(stage: ProtocolStage, starting: StartingStage, installed: Installed) -> Iterator[StageWork]:
    for order, work in enumerate(starting.works, start=1):
        yield StageWork(
            stage=stage,
            order=order,
            kind=work.kind,
            skill=installed.skills[work.skill],
            per_hour=work.per_hour,
            part=work.part,
            after=work.after,
            at_end=work.at_end,
            care=work.care,
            note=str(work.note),
        )
