"""All benchmarks of the planning core, table after table: `uv run python -m tests.bench [--quick] [--long]`.

`--quick` leaves out 100,000 batches and the tables that are commands of their own; `--long` levels up to 10,000
lines for two minutes each.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys

from tests.bench import carrying, levelling, promising
from tests.bench.table import machine, most_memory, say

OTHERS = ("sizing", "cold")  # tables of their own, with their own main()


def main() -> None:
    quick = "--quick" in sys.argv
    say(f"{machine()}\n")
    carrying.main(carrying.BATCHES[:2] if quick else carrying.BATCHES)
    promising.main(promising.BATCHES[:2] if quick else promising.BATCHES)
    levelling.main()
    for name in () if quick else OTHERS:
        if importlib.util.find_spec(f"tests.bench.{name}"):
            say(f"### {name}\n")
            importlib.import_module(f"tests.bench.{name}").main()
            say()
    say(f"Largest memory of the whole run: {most_memory():,.0f} MB")


if __name__ == "__main__":
    main()
