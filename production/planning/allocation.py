"""Who gets the plants when there are fewer than were promised: one named rule, and what it means for each line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
import numpy.typing as npt

from production.planning.chances import Array

Counts = npt.NDArray[np.int64]

# by_pickup: the earliest pickup is served first, then the earliest promise; so ready plants are divided.
# by_promise: the earliest promise is served first, then the earliest pickup.
# pro_rata: every line gets the same share, the odd plants by the largest remainder.
Rule = Literal["by_pickup", "by_promise", "pro_rata"]
RULES: tuple[Rule, ...] = ("by_pickup", "by_promise", "pro_rata")


@dataclass(frozen=True, slots=True)
class Claim:
    """Plants meant for one line. `promised` and then `number` say who was promised first."""

    key: str
    quantity: int
    pickup: date
    promised: date
    number: int = 0


@dataclass(frozen=True, slots=True)
class LineOutlook:
    """What one line is expected to get of what it was promised."""

    key: str
    quantity: int
    expected: float
    low: int  # tenth percentile
    high: int  # ninetieth
    short: float  # the chance of fewer than the quantity


def in_turn(claims: Sequence[Claim], rule: Rule) -> list[int]:
    """The claims' places in the sequence, the one served first in front."""
    if rule not in RULES:
        raise ValueError(f"a rule is one of {', '.join(RULES)}, not {rule!r}")

    def first(at: int) -> tuple[date, date, int, int]:
        claim = claims[at]
        by_promise = (claim.promised, claim.pickup, claim.number, at)
        return (claim.pickup, claim.promised, claim.number, at) if rule == "by_pickup" else by_promise

    return sorted(range(len(claims)), key=first)


def divided(plants: Counts, claims: Sequence[Claim], rule: Rule) -> Counts:
    """What each claim gets of so many plants: shape (claims, numbers of plants). Never more than its quantity.

    ValueError for a claim of less than nothing or an unknown rule.
    """
    quantities = np.array([claim.quantity for claim in claims], dtype=np.int64)
    if (quantities < 0).any():
        raise ValueError("no line can claim fewer than no plants")
    order = in_turn(claims, rule)
    there = np.clip(plants, 0, quantities.sum())
    got = np.zeros((len(claims), there.size), dtype=np.int64)
    if rule == "pro_rata":
        got[:] = _in_proportion(there, quantities, order)
    else:
        before = 0
        for at in order:
            got[at] = np.clip(there - before, 0, quantities[at])
            before += int(quantities[at])
    return got


def _in_proportion(there: Counts, quantities: Counts, order: list[int]) -> Counts:
    whole = max(int(quantities.sum()), 1)
    got, remainder = np.divmod(quantities[:, None] * there[None, :], whole)
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    rank = np.argsort(np.argsort(-remainder * (len(order) + 1) + place[:, None], axis=0), axis=0)
    return np.asarray(got + (rank < there - got.sum(axis=0)))


def line_outlooks(at_least: Array, claims: Sequence[Claim], rule: Rule) -> tuple[LineOutlook, ...]:
    """What each line is to expect when P(at least m plants come) is `at_least[m]`, m = 0 … ."""
    chances = -np.diff(np.append(at_least, 0.0))
    return outlooks_of(divided(np.arange(at_least.size), claims, rule), claims, chances)


def outlooks_of(got: Counts, claims: Sequence[Claim], chances: Array) -> tuple[LineOutlook, ...]:
    """The outlook of each claim from what it gets, shape (claims, cases), and the chance of each case."""
    return tuple(_of(claim, each, chances) for claim, each in zip(claims, got, strict=True))


def _of(claim: Claim, got: Counts, chances: Array) -> LineOutlook:
    by_number = np.bincount(got, weights=chances, minlength=claim.quantity + 1)
    below = np.cumsum(by_number)
    return LineOutlook(
        key=claim.key,
        quantity=claim.quantity,
        expected=float(got @ chances),
        low=int(np.searchsorted(below, 0.1 - 1e-12)),
        high=int(np.searchsorted(below, 0.9 - 1e-12)),
        short=min(max(float(chances[got < claim.quantity].sum()), 0.0), 1.0),
    )
