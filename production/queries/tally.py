"""What the counts of a part amount to. Balances are derived from the append-only rows, never stored.

A count of what is *up*, *fit to graft*, *taken* or *ready* is a total: the latest one tells the whole. What was
*sown*, *grafted*, *lost* or *handed over* adds up. A correction stands where the count it corrects stood.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.utils.translation import gettext as _

from orders.models import OrderLine
from orders.refusals import Refused

from ..models import Count, Part, Sowing

K = Count.Kind


@dataclass(frozen=True, slots=True)
class Entry:
    """A count as it stands after all corrections."""

    id: UUID
    kind: str
    quantity: int
    sowing: int | None
    line: int | None
    reason: str
    happened_on: date
    at: datetime  # when the count that it corrects, or it itself, was recorded
    by: str = ""

    @property
    def order(self) -> tuple[date, datetime]:
        return self.happened_on, self.at


def entries_of(rows: Iterable[Count]) -> list[Entry]:
    """Counts with corrections applied, in the order in which things happened."""
    by_id = {row.pk: row for row in rows}
    corrected = {row.corrects_id for row in by_id.values()}
    standing = [row for row in by_id.values() if row.pk not in corrected]
    entries = [
        Entry(
            id=row.pk,
            kind=row.kind,
            quantity=row.quantity,
            sowing=row.sowing_id,
            line=row.line_id,
            reason=row.reason,
            happened_on=row.happened_on,
            at=_first_recorded(row, by_id),
            by=row.by,
        )
        for row in standing
    ]
    return sorted(entries, key=lambda entry: entry.order)


def _first_recorded(row: Count, by_id: dict[UUID, Count]) -> datetime:
    while row.corrects_id in by_id:
        row = by_id[row.corrects_id]
    return row.recorded_at


@dataclass(frozen=True, slots=True)
class Loss:
    """Plants lost at one step, and why; a loss nobody explained carries the step's own words."""

    step: str  # the kind of count that showed it, or 'lost'
    cause: str
    quantity: int
    sowing: int | None = None


def _total(entries: Sequence[Entry]) -> int | None:
    return sum(entry.quantity for entry in entries) if entries else None


@dataclass(frozen=True)
class SowingTally:
    """One sowing: None means that nobody has counted yet."""

    sowing: Sowing
    entries: tuple[Entry, ...]

    def _of(self, kind: str) -> list[Entry]:
        return [entry for entry in self.entries if entry.kind == kind]

    def _latest(self, kind: str) -> Entry | None:
        return next(reversed(self._of(kind)), None)

    @property
    def sown(self) -> int | None:
        return _total(self._of(K.SOWN))

    @property
    def emerged(self) -> int | None:
        latest = self._latest(K.EMERGED)
        return latest.quantity if latest else None

    @property
    def emerged_on(self) -> date | None:
        """The first day on which any were counted up."""
        return next((entry.happened_on for entry in self._of(K.EMERGED) if entry.quantity), None)

    @property
    def usable(self) -> int | None:
        latest = self._latest(K.USABLE)
        return latest.quantity if latest else None

    @property
    def lost(self) -> int:
        """Recorded as lost since the latest count."""
        since = self._latest(K.USABLE) or self._latest(K.EMERGED)
        losses = [entry for entry in self._of(K.LOST) if since is None or entry.order > since.order]
        return _total(losses) or 0

    @property
    def seedlings(self) -> int:
        """Seedlings there are, as far as is counted (before any was grafted)."""
        counted = next((n for n in (self.usable, self.emerged, self.sown) if n is not None), 0)
        return counted - self.lost

    def losses(self) -> Iterator[Loss]:
        before = self.sown
        for kind, words in ((K.EMERGED, _("did not come up")), (K.USABLE, _("not fit to graft"))):
            latest = self._latest(kind)
            if latest is None or before is None:
                continue
            missing = before - latest.quantity - self._explained(kind)
            if missing > 0:
                yield Loss(kind, latest.reason or words, missing, self.sowing.pk)
            before = latest.quantity
        for entry in self._of(K.LOST):
            yield Loss(K.LOST, entry.reason or _("lost"), entry.quantity, self.sowing.pk)

    def _explained(self, kind: str) -> int:
        """Losses recorded one by one that this count includes."""
        latest = self._latest(kind)
        earlier = self._latest(K.EMERGED) if kind == K.USABLE else None
        if latest is None:
            return 0
        return sum(
            entry.quantity
            for entry in self._of(K.LOST)
            if entry.order < latest.order and (earlier is None or entry.order > earlier.order)
        )


@dataclass(frozen=True)
class Tally:
    """A part: what was counted on each side before the graft, and of the plants since."""

    grafted_kind: bool
    sowings: tuple[SowingTally, ...]
    entries: tuple[Entry, ...]  # of the part as a whole

    def _of(self, kind: str) -> list[Entry]:
        return [entry for entry in self.entries if entry.kind == kind]

    def of(self, sowing: Sowing | int | None) -> SowingTally:
        pk = sowing.pk if isinstance(sowing, Sowing) else sowing
        return next(tally for tally in self.sowings if tally.sowing.pk == pk)

    @property
    def begun(self) -> bool:
        return bool(self.entries) or any(sowing.sown is not None for sowing in self.sowings)

    # --- before the graft ---

    def side(self, subject: str) -> list[SowingTally]:
        return [tally for tally in self.sowings if tally.sowing.subject == subject]

    def begun_with(self, subject: str) -> bool:
        """Whether the seeds of a side were counted; of plants that stood on the first day nobody knows."""
        return any(tally.sown is not None for tally in self.side(subject))

    def seedlings(self, subject: str) -> int:
        """Seedlings of one side that are still to be grafted."""
        return sum(tally.seedlings for tally in self.side(subject)) - (self.grafted or 0)

    @property
    def graftable(self) -> int:
        """Pairs that could still be made."""
        return max(0, min(self.seedlings("rootstock"), self.seedlings("scion")))

    # --- from the graft on ---

    @property
    def grafted(self) -> int | None:
        return _total(self._of(K.GRAFTED))

    @property
    def grafted_on(self) -> date | None:
        return next((entry.happened_on for entry in self._of(K.GRAFTED)), None)

    @property
    def _take(self) -> Entry | None:
        return next(reversed(self._of(K.TAKEN)), None)

    @property
    def taken(self) -> int | None:
        return self._take.quantity if self._take else None

    @property
    def lost(self) -> int:
        """Lost since what took was counted; of a plain part, of the plants as a whole."""
        take = self._take
        losses = [entry for entry in self._of(K.LOST) if take is None or entry.order > take.order]
        return _total(losses) or 0

    @property
    def grown(self) -> int:
        """Plants that live or were handed over."""
        if self.grafted_kind:
            counted = self.taken if self.taken is not None else (self.grafted or 0)
        else:
            counted = sum(tally.seedlings for tally in self.sowings)
        return counted - self.lost

    @property
    def alive(self) -> int:
        return self.grown - self.handed_over

    @property
    def handed_over(self) -> int:
        return _total(self._of(K.HANDED_OVER)) or 0

    def handed_over_to(self, line: OrderLine | int) -> int:
        pk = line.pk if isinstance(line, OrderLine) else line
        return sum(entry.quantity for entry in self._of(K.HANDED_OVER) if entry.line == pk)

    @property
    def ready_by_line(self) -> dict[int | None, int]:
        """Plants ready in all, those collected included; None: ready, and nobody ordered them."""
        return {entry.line: entry.quantity for entry in self._of(K.READY)}

    @property
    def ready(self) -> int | None:
        by_line = self.ready_by_line
        return sum(by_line.values()) if by_line else None

    @property
    def ready_on(self) -> date | None:
        return next((entry.happened_on for entry in reversed(self._of(K.READY))), None)

    def waiting_for(self, line: OrderLine | int) -> int:
        """Plants of the line that are ready and still here."""
        pk = line.pk if isinstance(line, OrderLine) else line
        return self.ready_by_line.get(pk, 0) - self.handed_over_to(pk)

    @property
    def standing(self) -> int:
        """Plants or seedlings there are now, whatever stage they have reached."""
        if self.grafted_kind and self.grafted is None:
            return min(sum(t.seedlings for t in self.side(side)) for side in ("rootstock", "scion"))
        return self.alive

    def losses(self) -> Iterator[Loss]:
        for sowing in self.sowings:
            yield from sowing.losses()
        take = self._take
        if take is not None and self.grafted is not None:
            explained = sum(entry.quantity for entry in self._of(K.LOST) if entry.order < take.order)
            missing = self.grafted - take.quantity - explained
            if missing > 0:
                yield Loss(K.TAKEN, take.reason or _("did not take"), missing)
        for entry in self._of(K.LOST):
            yield Loss(K.LOST, entry.reason or _("lost"), entry.quantity)

    # --- what cannot be ---

    def faults(self) -> Iterator[Refused]:
        """Counts larger than what was there, worst first; none when the counts agree with each other."""
        for tally in self.sowings:
            yield from _sowing_faults(tally)
        yield from self._graft_faults()
        yield from self._end_faults()

    def _graft_faults(self) -> Iterator[Refused]:
        if self.grafted is not None:
            for subject, side in (("rootstock", _("rootstock")), ("scion", _("scion"))):
                if self.begun_with(subject) and self.seedlings(subject) < 0:
                    there = self.seedlings(subject) + self.grafted
                    yield _too_many(
                        _("%(n)s grafts need more %(side)s seedlings than the %(there)s there are.")
                        % {"n": self.grafted, "side": side, "there": there}
                    )
        if self.taken is not None and self.taken > (self.grafted or 0):
            yield _too_many(
                _("%(n)s took, but only %(there)s were grafted.") % {"n": self.taken, "there": self.grafted or 0}
            )

    def _end_faults(self) -> Iterator[Refused]:
        if self.grown < 0:
            yield _too_many(
                _("%(n)s lost, but only %(there)s were there.") % {"n": self.lost, "there": self.grown + self.lost}
            )
        if (self.ready or 0) > self.grown:
            yield _too_many(
                _("%(n)s ready, but only %(there)s live.") % {"n": self.ready, "there": max(0, self.grown)}
            )
        elif self.alive < 0:
            yield _too_many(
                _("%(n)s handed over, but only %(there)s were there.")
                % {"n": self.handed_over, "there": self.grown}
            )
        for line in {entry.line for entry in self._of(K.HANDED_OVER) if entry.line is not None}:
            if self.waiting_for(line) < 0:
                yield _too_many(
                    _("%(n)s handed over, but only %(there)s were ready.")
                    % {"n": self.handed_over_to(line), "there": self.ready_by_line.get(line, 0)}
                )


def _sowing_faults(tally: SowingTally) -> Iterator[Refused]:
    name, sown = tally.sowing.variety, tally.sown or 0
    if tally.emerged is not None and tally.emerged > sown:
        yield _too_many(
            _("%(n)s %(name)s up, but only %(there)s were sown.")
            % {"n": tally.emerged, "name": name, "there": sown}
        )
    there = sown if tally.emerged is None else tally.emerged
    if tally.usable is not None and tally.usable > there:
        yield _too_many(
            _("%(n)s %(name)s fit to graft, but only %(there)s came up.")
            % {"n": tally.usable, "name": name, "there": there}
        )
    if tally.seedlings < 0:
        yield _too_many(
            _("%(n)s %(name)s lost, but only %(there)s were there.")
            % {"n": tally.lost, "name": name, "there": tally.seedlings + tally.lost}
        )


def _too_many(reason: str) -> Refused:
    return Refused(reason, mend=_("Count again, or correct the count before it."), field="quantity")


def tally_of(part: Part, *, more: Iterable[Count] = ()) -> Tally:
    """The tally of a part; `more` are counts about to be added, to see whether they can be."""
    return tally_from(part, part.sowings.all(), [*part.counts.all(), *more])


def tallies_of(parts: Collection[Part]) -> dict[int, Tally]:
    """The tallies of many parts by their keys, in two questions; nothing is kept on the parts."""
    sowings: dict[int, list[Sowing]] = {part.pk: [] for part in parts}
    counts: dict[int, list[Count]] = {part.pk: [] for part in parts}
    for sowing in Sowing.objects.filter(part__in=sowings):
        sowings[sowing.part_id].append(sowing)
    for row in Count.objects.filter(part__in=counts):
        counts[row.part_id].append(row)
    return {part.pk: tally_from(part, sowings[part.pk], counts[part.pk]) for part in parts}


def tally_from(part: Part, sowings: Iterable[Sowing], rows: Iterable[Count]) -> Tally:
    entries = entries_of(rows)
    return Tally(
        grafted_kind=part.batch.kind == OrderLine.Kind.GRAFTED,
        sowings=tuple(
            SowingTally(sowing, tuple(entry for entry in entries if entry.sowing == sowing.pk))
            for sowing in sowings
        ),
        entries=tuple(entry for entry in entries if entry.sowing is None),
    )
