"""What readings are made of: good plans as drafts to be changed, and the changes with what is said of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from production.planning.filed import plan_of
from production.planning.season_file import read_season, write_plan

Json = Any
Said = tuple[tuple[Any, ...], ...]
FOLDER = Path(__file__).parents[1] / "season_files"
SUNDAY = "2026-06-07"


@dataclass(frozen=True)
class Draft:
    """A season and a plan of it, as JSON that may be changed."""

    season: Json
    plan: Json

    def course(self, line: str) -> Json:
        return next(each["plan"] for each in self.plan["lines"] if each["line"] == line)

    def part(self, line: str) -> Json:
        return self.course(line)["parts"][0]

    def of(self, line: str, group: str, **fields: str) -> Json:
        """The first sowing, stay or work of a line with these values."""
        return next(each for each in self.part(line)[group] if fields.items() <= each.items())

    def again(self, line: str, group: str, changes: Json, **fields: str) -> None:
        """One more of it, changed."""
        self.part(line)[group].append(deepcopy(self.of(line, group, **fields)) | changes)

    def sown_again(self, line: str, side: str, **changes: Any) -> None:
        """One more sowing of a side as the first, with stays and work of its own."""
        self.again(line, "sowings", {"number": 2} | changes, subject=side)
        for group in ("stays", "works"):
            own = [each for each in self.part(line)[group] if each["subject"] == side]
            self.part(line)[group] += [deepcopy(each) | {"sowing": 2} for each in own]

    def check(self, line: str, **changes: Any) -> None:
        """One more piece of work, which nobody asks for."""
        work = {"kind": "check", "subject": "union", "stage": "growing", "part": "day", "plants": 1, "hours": []}
        self.part(line)["works"].append(work | changes)

    def named(self, table: str, key: str) -> Json:
        """A place, a material, … of the season."""
        return next(each for each in self.season[table] if each["key"] == key)

    def stage(self, key: str) -> Json:
        return next(each for recipe in self.season["recipes"] for each in recipe["union"] if each["key"] == key)

    def asked(self, line: str) -> Json:
        both = [*self.season["lines"], *(each["line"] for each in self.season.get("promised", ()))]
        return next(each for each in both if each["key"] == line)

    def begun(self, line: str) -> Json:
        """What is recorded of the first part of a line, which is under way from now on, if it was not."""
        promised = next(each for each in self.season["promised"] if each["line"]["key"] == line)
        return promised.setdefault("begun", [{"part": 1, "recorded": {}}])[0]["recorded"]

    def claim(self, day: str, part: str = "day", **hours: float) -> None:
        asked = [{"skill": skill, "hours": amount} for skill, amount in hours.items()]
        claim = {"owner": "others", "label": "Others", "day": day, "hours": asked, "part": part}
        self.season.setdefault("taken", {}).setdefault("hands", []).append(claim)


@dataclass(frozen=True)
class Reading:
    """A draft as it is changed, and what must be said of it."""

    season: Json
    plan: Json
    impossible: Said
    conflicts: Said


Change = Callable[[Draft], None]
_WRITTEN: dict[str, tuple[Change, Callable[[], Draft], Said, Said]] = {}


@cache
def spring() -> Draft:
    """Line 1 grafted, 2 plain, 3 room; nothing is under way. Planned by our planner, which the referee passes."""
    text = (FOLDER / "quiet_spring.json").read_text()
    return Draft(json.loads(text), json.loads(write_plan(plan_of(read_season(text)))))


@cache
def living() -> Draft:
    """`begun` is grafted and healing, `later` is promised and not sown; both stand in the plan as promised."""
    season = json.loads((FOLDER / "under_way.json").read_text())
    lines = [{"line": "new", "plan": None}]
    lines += [{"line": each["line"]["key"], "plan": each["plan"]} for each in season["promised"]]
    goodness = {"how": "as promised"}
    plan = {"format": "plan of a grafting nursery", "version": 1, "today": season["today"], "goodness": goodness}
    return Draft(season, plan | {"lines": lines})


def _stays_cold(key: str, longest: int) -> Json:
    check = {"kind": "check", "hands": [{"skill": "crew", "per_hour": 1000}], "care": True}
    return {
        "key": key,
        "kind": "cold_hold",
        "name": "held cold",
        "place_kinds": ["cold"],
        "container": "plug-72",
        "nights": {"shortest": 0, "usual": 0, "longest": longest},
        "works": [check],
    }


@cache
def cold() -> Draft:
    """The same spring with a cold place, as warm as a bench, where nothing need be held, and nothing is."""
    draft = deepcopy(spring())
    draft.season["places"].append(deepcopy(draft.named("places", "bench_a")) | {"key": "cold", "kinds": ["cold"]})
    recipe = draft.season["recipes"][0]
    for side in ("rootstock", "scion"):
        recipe[side].append(_stays_cold(f"{side}-cold", 3))
    recipe["union"].insert(1, _stays_cold("cold", 28))
    return draft


def reading(draft: Callable[[], Draft], impossible: Said = (), conflicts: Said = ()) -> Callable[[Change], Change]:
    def kept(change: Change) -> Change:
        _WRITTEN[change.__name__] = (change, draft, impossible, conflicts)
        return change

    return kept


def readings() -> dict[str, Reading]:
    return {name: _made(*written) for name, written in _WRITTEN.items()}


def _made(change: Change, draft: Callable[[], Draft], impossible: Said, conflicts: Said) -> Reading:
    made = deepcopy(draft())
    change(made)
    made.plan["note"] = change.__doc__ or ""
    return Reading(made.season, made.plan, impossible, conflicts)
