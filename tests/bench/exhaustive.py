"""Promise and levelling against exhaustive search: `uv run python -m tests.bench.exhaustive 3000` tiny seasons.

The tests try a few of them at each run; this tries as many as wanted, and stops at a difference. A second number
says with which season to begin, so that a run can go on where another was stopped.
"""

from __future__ import annotations

import sys
from collections import Counter

from tests.planning import test_exact, test_level_exact


def main(seasons: int, first: int = 0) -> None:
    found: Counter[str] = Counter()
    for seed in range(first, first + seasons):
        for lines in (1, 2):
            found[f"{lines} lines: {test_exact.compared(seed, lines)}"] += 1
        found[f"levelled: {test_level_exact.compared(seed)}"] += 1
        sys.stderr.write(f"\rseason {seed} agrees")
    sys.stderr.write("\n")
    for what, times in sorted(found.items()):
        sys.stdout.write(f"{what}: {times}\n")


if __name__ == "__main__":
    main(*(map(int, sys.argv[1:]) if len(sys.argv) > 1 else (1000,)))
