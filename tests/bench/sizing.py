"""How long sizing takes and what service it reaches: `uv run python -m tests.bench.sizing`.

Asked for 95 %, from ten plants to a million, over kinds of seed and hands: known shares (binomial), practised
(shares as sure as 60 to 120 plants) and new (as sure as 10 to 30). Beside it, in the same process, the usual rule
of ten per cent more, and sizing by normal distributions. Aims: under 100 ms at any quantity; service within 0.002
of what was asked, or below it with one graft fewer. Service is the exact chance, and a simulation that draws every
share by itself, whose own error is printed. Processor time, with nothing remembered between runs.
"""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, inf, sqrt
from statistics import NormalDist

import numpy as np

from production.planning import chances, least_cost, mesh, sizing, staircase
from production.planning.batch_forecast import Growing, Grown, batch_outlook
from production.planning.chances import combine
from production.planning.least_cost import Costs
from production.planning.stems import Stand, StemSide, Tolerance, expected_pairs
from production.planning.terms import Clock, Material, PartFacts, Rate, Sizing

LEVEL = 0.95
QUANTITIES = (10, 30, 100, 300, 1_000, 10_000, 100_000, 1_000_000)
SEASONS = 400_000
CLOCK = Clock(102.4, 7.62, 25.0, 8.0, 30.0, 200.0, 240.0, 300.0)  # not used by sizing
DEAR_SCION = Costs(rootstock_seed=0.07, scion_seed=0.27, graft=0.25)


@dataclass(frozen=True)
class Kind:
    """Seed and hands of one kind: what sizing needs to know of them."""

    name: str
    rootstock: Material
    scion: Material
    take: Rate
    kept: Rate

    @property
    def grown(self) -> tuple[Material, Material, Rate, Rate]:
        return self.rootstock, self.scion, self.take, self.kept


def kind(name: str, *weights: float) -> Kind:
    """Invented shares in the range of common practice; only how sure they are differs."""
    means = (0.85, 0.88, 0.95, 0.92, 0.90, 0.97)
    emerged, usable, top_emerged, top_usable, take, kept = (
        Rate(m, w) for m, w in zip(means, weights, strict=True)
    )
    rootstock = Material("rootstock", "", CLOCK, emerged, usable)
    return Kind(name, rootstock, Material("scion", "", CLOCK, top_emerged, top_usable), take, kept)


KINDS = (
    kind("known", inf, inf, inf, inf, inf, inf),
    kind("practised", 60, 60, 120, 80, 100, 100),
    kind("new", 20, 15, 30, 20, 10, 30),
)


# --- ways to size ------------------------------------------------------------------------------------------


def ours(wanted: int, kind: Kind) -> Sizing:
    return sizing.size_grafted(wanted, *kind.grown, LEVEL)


def cheapest(wanted: int, kind: Kind) -> Sizing:
    return sizing.size_at_least_cost(wanted, *kind.grown, LEVEL).sizing


def ten_per_cent_more(wanted: int, kind: Kind) -> Sizing:
    """By the means, and ten per cent on the grafts and ten on the seeds of either side for that (no source)."""
    grafts = ceil(1.1 * wanted / (kind.take.mean * kind.kept.mean))
    sides = (kind.rootstock, kind.scion)
    seeds = (ceil(1.1 * grafts / (side.emerged.mean * side.usable.mean)) for side in sides)
    return given(wanted, kind, grafts, *seeds)


def ten_per_cent_on_the_order(wanted: int, kind: Kind) -> Sizing:
    """By the means, for an order made a tenth larger."""
    grafts = ceil(1.1 * wanted / (kind.take.mean * kind.kept.mean))
    sides = (kind.rootstock, kind.scion)
    seeds = (ceil(grafts / (side.emerged.mean * side.usable.mean)) for side in sides)
    return given(wanted, kind, grafts, *seeds)


def by_normal(wanted: int, kind: Kind) -> Sizing:
    """Each step as if its number were normal, at the level divided evenly over the three steps."""
    step = LEVEL ** (1 / 3)
    grafts = _normal(wanted, combine(kind.take, kind.kept), step)
    seeds = (_normal(grafts, sizing.stems(side), step) for side in (kind.rootstock, kind.scion))
    return given(wanted, kind, grafts, *seeds)


def _normal(wanted: int, rate: Rate, level: float) -> int:
    z, trials = NormalDist().inv_cdf(level), wanted
    while trials * rate.mean - z * mesh.spread(trials, rate) < wanted:
        trials += max(1, wanted // 200)
        if trials > 100 * wanted:
            break
    return trials


def given(wanted: int, kind: Kind, grafts: int, rootstock_seeds: int, scion_seeds: int) -> Sizing:
    return sizing.size_given(wanted, *kind.grown, rootstock_seeds, scion_seeds, grafts)


# --- what is measured --------------------------------------------------------------------------------------


def forget() -> None:
    """Nothing that an earlier run has left makes the next one quicker."""
    several = (sizing._sized_up, staircase.first_enough, staircase._chances_of_cheapest)
    for remembered in (*several, least_cost.cheapest, mesh.tail, mesh.needed):
        remembered.cache_clear()


def times(way: Callable[[int, Kind], Sizing], wanted: int, kind: Kind, runs: int) -> list[float]:
    """Milliseconds of single runs for quantities next to each other."""
    spent = []
    for more in range(runs):
        forget()
        begun = time.process_time()
        way(wanted + more, kind)
        spent.append((time.process_time() - begun) * 1000)
    return sorted(spent)


def simulated(wanted: int, kind: Kind, found: Sizing) -> float:
    """Share of seasons with enough plants: every share drawn by itself, none combined."""
    rng = np.random.default_rng(20261126)

    def come(trials: np.ndarray | int, *shares: Rate) -> np.ndarray:
        for rate in shares:
            good = rate.mean * rate.weight
            share = rate.mean if rate.weight == inf else rng.beta(good, rate.weight - good, SEASONS)
            trials = rng.binomial(trials, share, SEASONS)
        return np.asarray(trials)

    sides = zip((found.rootstock_seeds, found.scion_seeds), (kind.rootstock, kind.scion), strict=True)
    stems = [come(seeds, side.emerged, side.usable) for seeds, side in sides]
    ready = come(np.minimum(found.grafts, np.minimum(*stems)), kind.take, kind.kept)
    return float(np.mean(ready >= wanted))


def one_fewer(wanted: int, kind: Kind, found: Sizing) -> float:
    return given(wanted, kind, found.grafts - 1, found.rootstock_seeds, found.scion_seeds).chance


def say(text: str = "") -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def service() -> None:
    error = sqrt(LEVEL * (1 - LEVEL) / SEASONS)
    say(f"\nService reached, {LEVEL:g} asked (simulations of {SEASONS:,} seasons, standard error {error:.4f})")
    head = ("staircase", "1 fewer", "simulated", "cheapest", "simulated", "+10 % each", "+10 %", "normal")
    say(" ".join(f"{word:>11}" for word in ("kind", "plants", *head)))
    for each in KINDS:
        for wanted in QUANTITIES:
            climbed, least = ours(wanted, each), cheapest(wanted, each)
            figures = [
                climbed.chance, one_fewer(wanted, each, climbed), simulated(wanted, each, climbed),
                least.chance, simulated(wanted, each, least),
            ]  # fmt: skip
            for way in (ten_per_cent_more, ten_per_cent_on_the_order, by_normal):
                figures.append(way(wanted, each).chance)
            say(f"{each.name:>11} {wanted:>11,} " + " ".join(f"{figure:>11.4f}" for figure in figures))


def speed() -> None:
    say("\nProcessor ms to size one line, nothing remembered: p50 / p95")
    say(" ".join(f"{word:>20}" for word in ("kind", "plants", "staircase", "least cost", "enough with these?")))
    for each in KINDS:
        for wanted in QUANTITIES:
            runs = 20
            columns = [times(way, wanted, each, runs) for way in (ours, cheapest)]
            found = ours(wanted, each)

            def answer(n: int, kind: Kind, found: Sizing = found) -> Sizing:
                return given(n, kind, found.grafts, found.rootstock_seeds, found.scion_seeds)

            columns.append(times(answer, wanted, each, runs))
            said = (f"{spent[runs // 2]:.1f} / {spent[int(runs * 0.95)]:.1f}" for spent in columns)
            say(f"{each.name:>20} {wanted:>20,} " + " ".join(f"{figure:>20}" for figure in said))


def counting() -> None:
    say("\nThe chance that given seeds are enough, ms: on the mesh, and counting every number")
    each = KINDS[1]
    for wanted in QUANTITIES:
        found = ours(wanted, each)
        forget()
        begun = time.process_time()
        on_mesh = given(wanted, each, found.grafts, found.rootstock_seeds, found.scion_seeds).chance
        between = time.process_time()
        counted = _counted(wanted, each, found)
        ended = time.process_time()
        times_ms = ((between - begun) * 1000, (ended - between) * 1000)
        figures = " ".join(f"{ms:>10.2f}" for ms in times_ms)
        say(f"{wanted:>12,} {figures}  they differ by {abs(on_mesh - counted):.1e}")


def _counted(wanted: int, kind: Kind, found: Sizing) -> float:
    rootstocks = chances.at_least(found.rootstock_seeds, sizing.stems(kind.rootstock))
    scions = chances.at_least(found.scion_seeds, sizing.stems(kind.scion))
    finishing = chances.finishing(wanted, combine(kind.take, kind.kept), found.grafts)
    reach = slice(wanted, found.grafts + 1)
    return float(finishing @ (rootstocks[reach] * scions[reach]))


def cost() -> None:
    say(
        "\nCost above the least, %, of the staircase and of ten per cent more at each step (which misses the level"
    )
    say("or overshoots it): first with usual costs, then where the scion's seed is dear (0.07, 0.27, 0.25)")
    for each in KINDS:
        for wanted in (10, 30, 100, 1_000, 100_000):
            figures = [figure for costs in (Costs(), DEAR_SCION) for figure in _above_least(wanted, each, costs)]
            say(f"{each.name:>12} {wanted:>12,} " + " ".join(f"{figure:>+8.1f}" for figure in figures))


def _above_least(wanted: int, kind: Kind, costs: Costs) -> list[float]:
    least = sizing.size_at_least_cost(wanted, *kind.grown, LEVEL, costs).cost
    climbed = sizing.size_grafted(wanted, *kind.grown, LEVEL, costs)
    ways = (climbed, ten_per_cent_more(wanted, kind))
    return [100 * (costs.of(way.grafts, way.rootstock_seeds, way.scion_seeds) / least - 1) for way in ways]


def others() -> None:
    say("\nOther answers, processor ms")
    each = KINDS[1]
    grown = Grown(each.scion, each.kept, each.rootstock, each.take)
    parts = [Growing(PartFacts(), ours(500, each), ()) for _ in range(4)]
    sides = (StemSide((Stand(100, 2.6, 0.4),), 0.2), StemSide((Stand(100, 2.4, 0.3),), 0.2))
    ways: tuple[tuple[str, Callable[[], object]], ...] = (
        ("outlook of a part of 500", lambda: batch_outlook(parts[:1], grown, "by_pickup")),
        ("outlook of four parts of 500", lambda: batch_outlook(parts, grown, "by_pickup")),
        ("pairs of 100 and 100 stems, 2,000 seasons", lambda: expected_pairs(*sides, Tolerance(0.3, 0.3))),
    )
    for name, way in ways:
        begun = time.process_time()
        way()
        say(f"{name:>45} {(time.process_time() - begun) * 1000:>8.0f}")


def main() -> None:
    speed()
    counting()
    service()
    cost()
    others()
    say(f"\nLargest memory of the whole run: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
