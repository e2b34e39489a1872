"""How long a promise takes beside 100 to 100,000 batches: part of `uv run python -m tests.bench`.

A yes is asked of a nursery whose chamber is two thirds full, a no of one with half of that room. Guides: a yes 0.4
and 0.6 ms (median and 95 of a hundred), at 100,000 batches no more than 1.2 times that at 100; a refusal with its
proof and the nearest days, or with the ways out, under 150 ms at 95; why not 20 and 50 ms.

Beside it, in the same process, the exact question alone (CP-SAT, without first looking for a plan), which is how a
solver by itself would answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from random import Random

from production.planning.exact.proof import Said, place
from production.planning.load import Load
from production.planning.options import Ways
from production.planning.promise import judge, load_for, promise
from production.planning.terms import Answer, Season, Wish
from production.planning.ways_out import ways_out
from production.planning.why_not import why_not
from tests.bench import full
from tests.bench.table import memory_of, said, say, share, spent, table, tails

BATCHES = (100, 1_000, 10_000, 100_000)
ASKED = 100
FEWER = 25  # for what takes long
HALF = 0.5  # of the room


@dataclass(frozen=True)
class Asked:
    """Wishes on one load, each with its answer and the milliseconds that it took, the second time round."""

    load: Load
    wishes: Sequence[Wish]
    answers: Sequence[Answer]
    took: Sequence[float]

    def of(self, fits: bool) -> list[tuple[Wish, Answer]]:
        pairs = zip(self.wishes, self.answers, strict=True)
        return [(wish, answer) for wish, answer in pairs if answer.fits == fits and not answer.impossible]

    def times(self, fits: bool) -> list[float]:
        return [ms for answer, ms in zip(self.answers, self.took, strict=True) if answer.fits == fits]


def asked(season: Season, wishes: Sequence[Wish]) -> Asked:
    load = load_for(season, wishes)
    for wish in wishes[: ASKED // 4]:
        judge(load, wish)  # warms what is remembered between questions, as in a service that runs
    answers: list[Answer] = []
    took = [spent(lambda wish=wish: answers.append(judge(load, wish))) for wish in wishes]  # type: ignore[misc]
    return Asked(load, wishes, answers, took)


def exactly(found: Asked, fits: bool) -> list[float]:
    """The exact question alone, of the same wishes on the same load."""
    return [spent(partial(_exactly, found.load, wish)) for wish, _answer in found.of(fits)[:FEWER]]


def _exactly(load: Load, wish: Wish) -> Said:
    ways = Ways(load, wish)
    return place(ways, ways.pickups()).said


def yes_rows(batches: Sequence[int]) -> Iterator[list[object]]:
    wishes, first = list(full.wishes(ASKED, Random(9))), None
    for count in batches:
        season = full.full(count)
        found = asked(season, wishes)
        times = found.times(fits=True)
        middle = share(times, 0.5)
        first = first or middle
        anew = [spent(partial(promise, season, [wish])) for wish in wishes[:5]]
        yield [
            f"{count:,}",
            f"{len(times)} of {len(wishes)}",
            tails(times),
            f"{middle / first:.2f}",
            tails(exactly(found, fits=True)),
            said(share(anew, 0.5)),
            f"{memory_of(partial(judge, found.load, wishes[0])):.2f}",
        ]


def no_rows(batches: Sequence[int]) -> Iterator[list[object]]:
    wishes = list(full.wishes(ASKED, Random(9), 130, 230))
    for count in batches:
        season = full.full(count, HALF)
        found = asked(season, wishes)
        refused, times = found.of(fits=False), found.times(fits=False)
        some = refused[:FEWER]
        yield [
            f"{count:,}",
            f"{len(times)} of {len(wishes)}",
            f"{sum(answer.proved for _wish, answer in refused)}",
            tails(times),
            tails(exactly(found, fits=False)),
            tails([spent(partial(why_not, found.load, wish)) for wish, _answer in some]),
            tails([spent(partial(ways_out, season, answer, effort=0.0)) for _wish, answer in some]),
        ]


def main(batches: Sequence[int] = BATCHES) -> None:
    say("A yes, processor ms (median/95 of a hundred) on a load that stands\n")
    head = ["Batches", "Fit", "Yes", "Against 100", "CP-SAT alone", "From claims", "MB"]
    table(head, yes_rows(batches))
    say("A no, with its proof and the nearest days that fit; and what is told of it\n")
    head = ["Batches", "Refused", "Proved", "No", "CP-SAT alone", "Why not", "Ways out"]
    table(head, no_rows(batches))
