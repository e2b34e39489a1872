"""What a batch will deliver and who of its lines would be short, from the counts of all its parts.

Parts of one batch come of the same seed and the same hands: they do well or badly together, and what one has shown
sharpens what is expected of the others. One part alone is reckoned exactly; several are drawn, 20,000 seasons with
a seed, so that the same counts give the same answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isinf

import numpy as np

from production.planning.allocation import Claim, Counts, LineOutlook, Rule, divided, line_outlooks, outlooks_of
from production.planning.chances import Array, certain
from production.planning.forecast import NONE_LOST, counted, deliverable, learned, learned_from, so_far
from production.planning.terms import Material, Outlook, PartFacts, Rate, Sizing, SowingFacts, Subject

SEASONS = 20_000


@dataclass(frozen=True, slots=True)
class Growing:
    """One part: what it was planned with, what has been counted of it, and the lines its plants are meant for."""

    facts: PartFacts
    sizing: Sizing
    claims: tuple[Claim, ...]


@dataclass(frozen=True, slots=True)
class BatchOutlook:
    """A batch on the whole (its `chance` is that every line is served in full), and each of its lines."""

    whole: Outlook
    lines: tuple[LineOutlook, ...]


@dataclass(frozen=True, slots=True)
class Grown:
    """The varieties and shares of a batch; a plain one has its variety as `scion`, no rootstock and no take."""

    scion: Material
    kept: Rate
    rootstock: Material | None = None
    take: Rate = NONE_LOST


def batch_outlook(parts: Sequence[Growing], grown: Grown, rule: Rule, seed: int = 1) -> BatchOutlook:
    """The plants a batch will deliver, and what each line gets of them under the rule, part by part.

    A line with plants in several parts is told once, with their sum. ValueError for no parts or an unknown rule.
    """
    if not parts:
        raise ValueError("a batch has a part at least")
    if len(parts) == 1:
        return _of_one(parts[0], grown, rule)
    rng = np.random.default_rng(seed)
    ready = _ready(parts, _Shares(parts, grown, rng), grown, rng)
    claims, got = _by_line(parts, ready, rule)
    chances = np.full(SEASONS, 1 / SEASONS)
    everyone = np.all([each >= claim.quantity for claim, each in zip(claims, got, strict=True)], axis=0)
    low, high = np.percentile(ready.sum(axis=0), [10, 90], method="inverted_cdf")
    whole = Outlook(float(ready.sum(axis=0).mean()), int(low), int(high), float(np.mean(everyone)))
    return BatchOutlook(whole, outlooks_of(got, claims, chances))


def _of_one(part: Growing, grown: Grown, rule: Rule) -> BatchOutlook:
    there = deliverable(part.facts, part.sizing, grown.scion, grown.kept, grown.rootstock, grown.take)
    wanted = sum(claim.quantity for claim in part.claims)
    low, high = (int((there > level).sum()) - 1 for level in (0.9, 0.1))
    chance = float(there[wanted]) if wanted < there.size else 0.0
    whole = Outlook(float(there[1:].sum()), low, high, chance)
    return BatchOutlook(whole, line_outlooks(there, part.claims, rule))


def _by_line(parts: Sequence[Growing], ready: Counts, rule: Rule) -> tuple[list[Claim], Counts]:
    """The lines of all parts, each once with its whole quantity, and what each gets in every season."""
    claims: dict[str, Claim] = {}
    got: dict[str, Counts] = {}
    for part, plants in zip(parts, ready, strict=True):
        for claim, each in zip(part.claims, divided(plants, part.claims, rule), strict=True):
            before = claims.get(claim.key)
            quantity = claim.quantity + (before.quantity if before else 0)
            claims[claim.key] = Claim(claim.key, quantity, claim.pickup, claim.promised, claim.number)
            got[claim.key] = got.get(claim.key, 0) + each
    return list(claims.values()), np.array(list(got.values())).reshape(len(got), SEASONS)


# --- seasons -----------------------------------------------------------------------------------------------


class _Shares:
    """The shares of the batch in each season, all parts alike, sharpened by the counts of every part."""

    def __init__(self, parts: Sequence[Growing], grown: Grown, rng: np.random.Generator) -> None:
        self.take = _drawn(_take(parts, grown.take), rng)
        self.kept = _drawn(_kept(parts, grown.kept), rng)
        sowings = tuple(sowing for part in parts for sowing in part.facts.sowings)
        self.sides: dict[Subject, tuple[Array, Array]] = {}
        for subject, material in _sides(grown):
            emergence, use = learned_from(sowings, subject, material)
            self.sides[subject] = (_drawn(emergence, rng), _drawn(use, rng))


def _sides(grown: Grown) -> list[tuple[Subject, Material]]:
    if grown.rootstock is None:
        return [("plain", grown.scion)]
    return [("rootstock", grown.rootstock), ("scion", grown.scion)]


def _take(parts: Sequence[Growing], take: Rate) -> Rate:
    for facts in (part.facts for part in parts):
        if facts.grafted and facts.taken is not None:
            take = learned(take, min(facts.taken, facts.grafted), facts.grafted)
    return take


def _kept(parts: Sequence[Growing], kept: Rate) -> Rate:
    for facts in (part.facts for part in parts):
        if facts.taken and facts.ready is not None:
            kept = learned(kept, min(facts.ready, facts.taken), facts.taken)
    return kept


def _drawn(rate: Rate, rng: np.random.Generator) -> Array:
    if isinf(rate.weight) or certain(rate) is not None:
        return np.full(SEASONS, rate.mean)
    return rng.beta(rate.mean * rate.weight, (1 - rate.mean) * rate.weight, SEASONS)


def _ready(parts: Sequence[Growing], shares: _Shares, grown: Grown, rng: np.random.Generator) -> Counts:
    """Plants ready of each part in every season: shape (parts, seasons)."""
    return np.array([_ready_of(part, shares, grown, rng) for part in parts])


def _ready_of(part: Growing, shares: _Shares, grown: Grown, rng: np.random.Generator) -> Counts:
    left = counted(part.facts)
    if left is not None:
        plants = np.full(SEASONS, left[0])
        return plants if left[1] else rng.binomial(plants, shares.kept)
    if part.facts.grafted is not None:
        return rng.binomial(part.facts.grafted, shares.take * shares.kept)
    stems = [_stems(part.facts.sowings, subject, part.sizing, shares, rng) for subject, _ in _sides(grown)]
    if grown.rootstock is None:
        return rng.binomial(stems[0], shares.kept)
    pairs = np.minimum(part.sizing.grafts, np.minimum(*stems))
    return rng.binomial(pairs, shares.take * shares.kept)


def _stems(
    sowings: tuple[SowingFacts, ...], subject: Subject, sizing: Sizing, shares: _Shares, rng: np.random.Generator
) -> Counts:
    planned = sizing.rootstock_seeds if subject == "rootstock" else sizing.scion_seeds
    usable, emerged, waiting = so_far(sowings, subject, planned)
    emergence, use = shares.sides[subject]
    return usable + rng.binomial(emerged, use) + rng.binomial(waiting, emergence * use)
