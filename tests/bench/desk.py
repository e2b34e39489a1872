"""How long the desk takes to answer: `uv run python -m tests.bench.desk [--kept FOLDER] [40 400 2000 10000]`.

A nursery of each size is made in a folder of its own and served as `./run serve` does it, by a process of its own;
chromium types in the desk's form as a person would. With `--kept` the nurseries are made in that folder, or taken
from it where they are there already. Measured is the time from the last key to the answer standing
on the page (server and browser together), and the server's part of it. Guides: 150 ms at 40 orders, 300 at 10,000.

What is asked: a line that fits, three lines judged together that fit, and one that does not fit, whose first look
and whose closer one (the nearest days and the ways out, asked for a quarter of a second after the last key) are
measured apart.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests import services
from tests.bench.large import NO_ROOM
from tests.bench.table import machine, say, table, tails
from tests.browser import LAUNCH
from tests.served import Serving, serving

SIZES = (40, 400, 2_000, 10_000)
KEYS = 24  # answers measured of each kind
YES = 190  # days until a pickup that fits
PASSWORD = "a demo nursery"

# Waits for the answer inside the page, so that nothing of the driver's own time is counted.
WATCH = """
({field, value, looking}) => new Promise((found) => {
  const input = document.querySelector(`[name="${field}"]`);
  const begun = performance.now();
  const before = document.querySelector("#answer");
  const seen = new MutationObserver(() => {
    const answer = document.querySelector("#answer");
    const closer = answer && answer.querySelector("[hx-trigger^=load]");
    if (!answer || answer === before) return;
    if (looking === "closely" && closer) return;
    seen.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => {
      const asked = performance.getEntriesByType("resource").filter((each) => each.name.includes("/desk/answer/"));
      const last = asked[asked.length - 1];
      found([performance.now() - begun, last.responseEnd - last.requestStart]);
    }));
  });
  seen.observe(document.body, {childList: true, subtree: true});
  input.value = value;
  input.dispatchEvent(new Event("input", {bubbles: true}));
})
"""


@dataclass
class Times:
    """Milliseconds from the last key to the answer, and the server's part of them."""

    shown: list[float] = field(default_factory=list)
    served: list[float] = field(default_factory=list)


def main() -> None:
    asked = ArgumentParser()
    asked.add_argument("--kept", type=Path)
    asked.add_argument("sizes", type=int, nargs="*", default=SIZES)
    wanted = asked.parse_args()
    say(f"{machine()}; median/95 of a hundred, ms, of {KEYS} answers\n")
    head = ["orders"]
    for what in ("a yes", "three lines", "a no at first sight", "a no and the ways out"):
        head += [f"{what}: shown", "served"]
    table(head, (row(size, wanted.kept) for size in wanted.sizes))


def row(size: int, kept: Path | None) -> list[str]:
    with made(size, kept) as folder, serving(folder) as served, a_page(served) as page:
        return [f"{size:,}", *(words for times in measured(page) for words in said(times))]


def said(times: Times) -> tuple[str, str]:
    return tails(times.shown), tails(times.served)


@contextmanager
def made(size: int, kept: Path | None) -> Iterator[Path]:
    """The folder of a nursery of that size."""
    with tempfile.TemporaryDirectory() as passing:
        folder = kept / str(size) if kept else Path(passing)
        if not (folder / "data").exists():
            make(size, folder / "data")
        yield folder


def make(size: int, folder: Path) -> None:
    folder.mkdir(parents=True)
    environment = {**os.environ, "GRAFTWRIGHT_DATA": str(folder)}
    subprocess.run([sys.executable, "-m", "tests.bench.large", str(size)], env=environment, check=True)


@contextmanager
def a_page(served: Serving) -> Iterator[Page]:
    served.first_page(seconds=300)  # the first one reads the season
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=services.chromium(), args=LAUNCH)
        page = browser.new_page(base_url=served.address, viewport={"width": 1280, "height": 900})
        page.goto("/sign-in/")
        page.locator("[name=username]").fill("grower")
        page.locator("[type=password]").fill(PASSWORD)
        with page.expect_navigation():
            page.keyboard.press("Enter")
        yield page
        browser.close()


def measured(page: Page) -> Iterator[Times]:
    fill(page, lines=1, pickup=YES)
    yield many(page, "lines-0-quantity", "plain")
    fill(page, lines=3, pickup=YES)
    yield many(page, "lines-2-quantity", "plain")
    for looking in ("plain", "closely"):
        fill(page, lines=1, pickup=NO_ROOM)
        yield many(page, "lines-0-quantity", looking)


def fill(page: Page, *, lines: int, pickup: int) -> None:
    """The desk's form, complete but for the quantity of its last line."""
    page.goto("/desk/")
    page.locator("[name=customer]").fill("Ostler Farm")
    day = open_day(date.today() + timedelta(days=pickup))  # noqa: DTZ011  (the nursery and we share a machine)
    for number in range(lines):
        if number:
            with page.expect_navigation():
                page.keyboard.press("Alt+l")
        values = {"quantity": "30", "scion": "Tallis Red", "rootstock": "Kelder", "pickup": day.isoformat()}
        for name, value in {**values, "later": "0", "earlier": "0"}.items():
            page.locator(f"[name=lines-{number}-{name}]").fill(value)
    page.wait_for_timeout(1500)
    page.locator("#answer [hx-trigger^=load]").wait_for(state="detached")
    words = page.locator("#answer").inner_text()
    assert ("does not fit" in words) == (pickup == NO_ROOM), words


def open_day(day: date) -> date:
    return day + timedelta(days=day.weekday() == 6)


def many(page: Page, name: str, looking: str) -> Times:
    """Type in the field again and again, each time another value, and wait for its answer."""
    times = Times()
    for number in range(KEYS + 2):
        shown, served = page.evaluate(WATCH, {"field": name, "value": str(20 + number % 2), "looking": looking})
        if number >= 2:  # the first ones read the season
            times.shown.append(shown)
            times.served.append(served)
        page.wait_for_timeout(400)
    return times


if __name__ == "__main__":
    main()
