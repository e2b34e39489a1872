"""One batch: where it stands, what was counted, how it thins from sown to ready, and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Min, Prefetch, Q, QuerySet
from django.utils.translation import gettext as _

from orders import history
from orders.models import HistoryEntry
from orders.strand import Strand

from .. import bridge
from ..models import Allocation, Batch, Count, Part, ProtocolStage, Sowing, Stay, Work
from ..strands import strand_of
from ..whys import Why, whys_of
from .tally import Loss, SowingTally, Tally, tally_from
from .works import which_sowing


@dataclass(frozen=True)
class Step:
    """One step at which plants were counted; None: not yet."""

    key: str
    name: str
    plants: int | None
    lost: int
    causes: tuple[Loss, ...]

    @property
    def by_cause(self) -> list[tuple[str, int]]:
        """How many were lost to each cause, the worst first."""
        sums: dict[str, int] = {}
        for loss in self.causes:
            sums[loss.cause] = sums.get(loss.cause, 0) + loss.quantity
        return sorted(sums.items(), key=lambda item: -item[1])


@dataclass(frozen=True)
class Lane:
    """A run of steps: one sowing before the graft, or the plants since."""

    key: str  # scion, rootstock, plants
    name: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Block:
    """A bar of the picture, in its own units (0 … 1000 wide, 0 … 100 high)."""

    lane: str
    x: float
    y: float
    width: float
    height: float
    css: str
    words: str = ""


@dataclass(frozen=True)
class PartView:
    part: Part
    tally: Tally
    strand: Strand
    lanes: tuple[Lane, ...]
    stands: tuple[Stay, ...]  # where its trays are now
    to_come: tuple[Stay, ...]
    works: tuple[Work, ...]  # still to do
    counts: tuple[Count, ...]  # newest first; a corrected one has `corrected_by`
    reasons: tuple[Why, ...]

    @property
    def allocations(self) -> list[Allocation]:
        return list(self.part.allocations.all())

    @property
    def spare(self) -> int:
        return max(0, self.tally.alive - sum(allocation.quantity for allocation in self.allocations))

    @property
    def can_be_ready(self) -> bool:
        """Whether there are plants that could be counted ready."""
        return self.tally.alive > 0 and not (self.tally.grafted_kind and self.tally.grafted is None)

    @property
    def pictures(self) -> list[Block]:
        return picture(self.lanes)

    @property
    def picture_height(self) -> float:
        return picture_height(self.lanes)


def batches() -> QuerySet[Batch]:
    """Batches with all that their page needs."""
    counts = Count.objects.select_related("sowing__variety", "line__order", "corrects", "corrected_by")
    parts = Part.objects.select_related("container", "batch__scion", "batch__rootstock").prefetch_related(
        Prefetch("sowings", queryset=Sowing.objects.select_related("variety", "lot__customer", "container")),
        Prefetch("stays", queryset=Stay.objects.select_related("place", "container", "sowing")),
        Prefetch("works", queryset=Work.objects.select_related("sowing__variety")),
        Prefetch("counts", queryset=counts),
        Prefetch("allocations", queryset=Allocation.objects.select_related("line__order__customer")),
    )
    return Batch.objects.select_related("scion", "rootstock", "protocol__crop").prefetch_related(
        Prefetch("parts", queryset=parts), Prefetch("protocol__stages", queryset=ProtocolStage.objects.all())
    )


def list_of_batches(*, gone: bool = False, only: Q | None = None) -> QuerySet[Batch]:
    """Batches with plants or plans (or, `gone`, all others), the next ready first; `only` limits their parts.

    With what a row of a list says, and no more: no counts, no work.
    """
    over = (Part.State.GONE, Part.State.DROPPED)
    alive = Part.objects.exclude(state__in=over).values("batch")
    lines = Allocation.objects.select_related("line__order__customer")
    parts = Part.objects.select_related("batch").prefetch_related(Prefetch("allocations", queryset=lines))
    every = Batch.objects.select_related("scion", "rootstock").prefetch_related(Prefetch("parts", queryset=parts))
    found = every.exclude(pk__in=alive) if gone else every.filter(pk__in=alive)
    if only is not None:
        found = found.filter(pk__in=Part.objects.filter(only).values("batch"))
    return found.annotate(ready=Min("parts__ready_day")).order_by("-ready" if gone else "ready", "pk")


def part_view(part: Part, *, today: date) -> PartView:
    rows = list(part.counts.all())
    tally = tally_from(part, part.sowings.all(), rows)
    stays = sorted(part.stays.all(), key=lambda stay: (stay.first, stay.pk))
    works = [work for work in part.works.all() if work.state == Work.State.PLANNED]
    lines = [allocation.line for allocation in part.allocations.all()]
    return PartView(
        part=part,
        tally=tally,
        strand=strand_of(
            bridge.part_plan_of(part),
            method=part.batch.method,
            pickup=part.pickup,
            collection=max((line.collection_days for line in lines), default=1),
            today=today,
        ),
        lanes=tuple(lanes_of(part, tally)),
        stands=tuple(stay for stay in stays if stay.entered and not stay.left),
        to_come=tuple(stay for stay in stays if not stay.entered),
        works=tuple(sorted(works, key=lambda work: (work.day, work.pk))),
        counts=tuple(sorted(rows, key=lambda row: row.recorded_at, reverse=True)),
        reasons=tuple(
            whys_of(
                ((what, date.fromisoformat(day), why) for what, day, why in part.reasons),
                {stay.stage: stay.stage_kind for stay in stays},
            )
        ),
    )


def history_of(batch: Batch) -> QuerySet[HistoryEntry]:
    return history.of(batch)


# --- thinning --------------------------------------------------------------------------------------------------


def lanes_of(part: Part, tally: Tally) -> Iterable[Lane]:
    """The steps from sown to ready: each sowing up to the graft, then the plants; of a plain part one lane."""
    if tally.grafted_kind:
        for side, name in (("scion", _("Scion")), ("rootstock", _("Rootstock"))):
            if tally.begun_with(side) or tally.grafted is None:
                for each in sorted(tally.side(side), key=lambda each: each.sowing.number):
                    words = [name, which_sowing(part, each.sowing.pk)]
                    yield Lane(side, ", ".join(filter(None, words)), tuple(_steps([each], side)))
        yield Lane("plants", _("Grafted plants"), tuple(_plant_steps(tally)))
    else:
        steps = (*_steps(tally.side("plain"), "plain"), *_end_steps(tally))
        yield Lane("plants", _("Plants"), steps)


def _steps(sowings: Sequence[SowingTally], side: str) -> Iterable[Step]:
    losses = [loss for sowing in sowings for loss in sowing.losses()]
    yield Step("sown", _("sown"), _sum(each.sown for each in sowings), 0, ())
    yield _step("emerged", _("up"), _sum(each.emerged for each in sowings), losses)
    yield _step("usable", _("fit to graft") if side != "plain" else _("fit to grow on"),
                _sum(each.usable for each in sowings), losses)  # fmt: skip
    rest = [loss for loss in losses if loss.step == "lost"]
    if rest:
        there = sum(each.seedlings for each in sowings)
        yield Step("lost", _("left after losses"), there, sum(loss.quantity for loss in rest), tuple(rest))


def _plant_steps(tally: Tally) -> Iterable[Step]:
    losses = [loss for loss in tally.losses() if loss.sowing is None]
    yield Step("grafted", _("grafted"), tally.grafted, 0, ())
    yield _step("taken", _("took"), tally.taken, losses)
    yield from _end_steps(tally)


def _end_steps(tally: Tally) -> Iterable[Step]:
    losses = [loss for loss in tally.losses() if loss.sowing is None and loss.step == "lost"]
    if losses:
        yield Step("lost", _("left after losses"), tally.grown, sum(x.quantity for x in losses), tuple(losses))
    yield Step("ready", _("ready"), tally.ready, 0, ())
    if tally.handed_over:
        yield Step("handed_over", _("handed over"), tally.handed_over, 0, ())


def _step(key: str, name: str, plants: int | None, losses: Sequence[Loss]) -> Step:
    own = tuple(loss for loss in losses if loss.step == key)
    return Step(key, name, plants, sum(loss.quantity for loss in own), own)


def _sum(numbers: Iterable[int | None]) -> int | None:
    found = [number for number in numbers if number is not None]
    return sum(found) if found else None


# --- the picture: the strand again, as thick as there are plants -------------------------------------------------

WIDTH, HEIGHT = 1000.0, 44.0  # of one lane
GAP = 8.0


def picture(lanes: Sequence[Lane]) -> list[Block]:
    """Blocks from left to right that thin as plants are lost; the sowings of the sides run above each other."""
    most = max((step.plants or 0 for lane in lanes for step in lane.steps), default=0)
    if not most:
        return []
    sides = [lane for lane in lanes if lane.key != "plants"]
    plants = [lane for lane in lanes if lane.key == "plants"]
    columns = max((len(lane.steps) for lane in sides), default=0)
    total = columns + sum(len(lane.steps) for lane in plants)
    width = WIDTH / total
    blocks: list[Block] = []
    for row, lane in enumerate(sides):
        blocks += _blocks(lane, 0, row * (HEIGHT + GAP), width, most)
    middle = (picture_height(lanes) - HEIGHT) / 2
    for lane in plants:
        blocks += _blocks(lane, columns, middle, width, most)
    return blocks


def _blocks(lane: Lane, column: int, top: float, width: float, most: int) -> Iterable[Block]:
    before = None
    for number, step in enumerate(lane.steps):
        x = (column + number) * width
        if step.plants is None:
            yield Block(lane.key, x, top + HEIGHT / 2 - 1, width - 2, 2, "to-come")
            continue
        height = max(1.0, HEIGHT * step.plants / most)
        if before and before > step.plants:
            lost = HEIGHT * (before - step.plants) / most
            yield Block(lane.key, x, top + (HEIGHT + height) / 2, width - 2, lost / 2, "lost")
            yield Block(lane.key, x, top + (HEIGHT - height) / 2 - lost / 2, width - 2, lost / 2, "lost")
        yield Block(
            lane.key, x, top + (HEIGHT - height) / 2, width - 2, height, "here",
            words=f"{step.plants}",
        )  # fmt: skip
        before = step.plants


def picture_height(lanes: Sequence[Lane]) -> float:
    rows = max(sum(lane.key != "plants" for lane in lanes), 1)
    return HEIGHT * rows + GAP * (rows - 1)
