"""From a plan to its strands: one for each part that is grafted, or grown, on its own. No Django, no tables."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from orders.strand import Cold, Lane, Strand, Stretch

from .planning import terms

LANES: dict[terms.Subject, Lane] = {"scion": "scion", "rootstock": "rootstock", "union": "union", "plain": "union"}


def strands_of(
    plan: terms.LinePlan, today: date | None = None, cold_places: frozenset[str] = frozenset()
) -> tuple[Strand, ...]:
    """The strands of a line's plan, a part each; `cold_places` are the keys of the places for cold holding."""
    collection = max(plan.wish.collection, 1)
    method = plan.wish.recipe.method if plan.wish.recipe else ""
    return tuple(
        strand_of(
            part,
            method=method,
            pickup=plan.pickup,
            collection=collection,
            today=today,
            cold_places=cold_places,
        )
        for part in plan.parts
    )


def strand_of(
    part: terms.PartPlan,
    *,
    method: str = "",
    pickup: date | None,
    collection: int = 1,
    today: date | None = None,
    cold_places: frozenset[str] = frozenset(),
) -> Strand:
    """The strand of one part; `collection` is the number of open days to come for the plants."""
    union = [stay for stay in part.stays if stay.subject in ("union", "plain")]
    return Strand(
        method=method,
        scion_sown=_sown(part, "scion"),
        rootstock_sown=_sown(part, "rootstock"),
        plain_sown=_sown(part, "plain"),
        grafted=(part.graft_day,) if part.graft_day else (),
        healing=_stretch(union, {terms.HEAL}),
        cover=_stretch(union, {terms.COVER}),
        notch=_day_of(part, terms.NOTCH),
        final_cut=_day_of(part, terms.FINAL_CUT),
        hardening=_stretch(union, {terms.WEANING, terms.HARDEN}),
        growing_on=_stretch(union, {terms.GROW_ON}),
        topped=_day_of(part, terms.TOP),
        ready=part.ready,
        pickup=pickup,
        window=_window(part, pickup, collection),
        cold=_cold(part.stays, cold_places),
        room=_stretch((stay for stay in part.stays if stay.subject == "room"), {terms.ROOM}),
        today=today,
    )


def _sown(part: terms.PartPlan, subject: terms.Subject) -> tuple[date, ...]:
    return tuple(sorted({sowing.day for sowing in part.sowings if sowing.subject == subject}))


def _stretch(stays: Iterable[terms.StayPlan], kinds: set[str]) -> Stretch | None:
    found = [stay for stay in stays if stay.stage_kind in kinds and stay.nights]
    if not found:
        return None
    return Stretch(min(stay.first for stay in found), max(stay.leaves for stay in found))


def _day_of(part: terms.PartPlan, kind: str) -> date | None:
    return min((work.day for work in part.works if work.kind == kind), default=None)


def _window(part: terms.PartPlan, pickup: date | None, collection: int) -> tuple[date, date] | None:
    """The days to come for the plants: room is held up to the night before the last of them."""
    if pickup is None or collection < 2:
        return None
    held = [stay.leaves for stay in part.stays if stay.stage_kind == terms.WAITING]
    return pickup, max(held, default=pickup + timedelta(days=collection - 1))


def _cold(stays: Iterable[terms.StayPlan], places: frozenset[str]) -> tuple[Cold, ...]:
    return tuple(
        Cold(LANES[stay.subject], Stretch(stay.first, stay.leaves))
        for stay in stays
        if (stay.stage_kind == terms.COLD_HOLD or stay.place in places) and stay.subject in LANES
    )
