"""What the benchmarks share: a clock, medians and tails, a table in markdown."""

from __future__ import annotations

import platform
import resource
import sys
import time
import tracemalloc
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from pathlib import Path


def say(words: str = "") -> None:
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    say(f"| {' | '.join(head)} |")
    say(f"|{'---|' * len(head)}")
    for row in rows:
        say(f"| {' | '.join(str(each) for each in row)} |")
    say()


def machine() -> str:
    """Day, processor, cores and Python, as they stand above a table."""
    cpus = Path("/proc/cpuinfo")
    names = [line.split(":", 1)[1].strip() for line in cpus.read_text().splitlines() if "model name" in line]
    cores = f"{len(names)} cores" if names else platform.machine()
    return f"{date.today():%d %B %Y}, {cores} of {(names or ['?'])[0]}, Python {platform.python_version()}"  # noqa: DTZ011


def spent(work: Callable[[], object]) -> float:
    """Milliseconds of processor time, so that others on the machine do not matter."""
    begun = time.process_time()
    work()
    return (time.process_time() - begun) * 1000


def best_of(times: int, work: Callable[[], object]) -> float:
    return min(spent(work) for _ in range(times))


def share(values: Iterable[float], part: float) -> float:
    """The value that so large a part of them does not exceed."""
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, int(len(ranked) * part))]


def tails(values: Sequence[float]) -> str:
    """Median / 95 of a hundred, or a dash."""
    return f"{said(share(values, 0.5))}/{said(share(values, 0.95))}" if values else "–"


def said(milliseconds: float) -> str:
    if milliseconds < 1:
        return f"{milliseconds:.2f}"
    return f"{milliseconds:.1f}" if milliseconds < 10 else f"{milliseconds:,.0f}"


def memory_of(work: Callable[[], object]) -> float:
    """Megabytes that Python and numpy hold while the answer is held, beyond what they held before."""
    tracemalloc.start()
    held = work()
    size = tracemalloc.get_traced_memory()[0] / 2**20
    tracemalloc.stop()
    del held
    return size


def most_memory() -> float:
    """Megabytes of the whole run at its largest."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
