"""Plans, good and spoilt, for comparing referees: a season file, a plan file, and what our referee says of them.

`python -m tests.planning.spoilt FOLDER [COUNT]` writes them as 01.season.json, 01.plan.json, 01.verdict.json, 02 …
It takes a minute. COUNT (50) of them are spoilt at random; after these come those of `readings`, whose notes say
which sentence of the page they try. A verdict lists [rule, key of the line, part] of all that is impossible, and
[resource, key, first, last, peak, there] of all that is in conflict, amounts rounded to 1e-6. Another referee,
written from FORMAT.md alone, agrees with ours if it finds the same.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from random import Random
from typing import Any

from production.planning.filed import Verdict, judge_plan, plan_of
from production.planning.promise import plan_as_asked
from production.planning.season_file import (
    Goodness,
    PlanFile,
    PlannedLine,
    SeasonFile,
    plan_from,
    read_season,
    season_from,
    write_plan,
    write_season,
)
from production.planning.terms import Impossible
from tests.planning import readings, seasons

FILES = sorted((Path(__file__).parent / "season_files").glob("*.json"))
Json = Any


@dataclass(frozen=True)
class Pair:
    """A season and a plan of it, as the JSON that a stranger gets, and our verdict."""

    season: Json
    plan: Json
    verdict: Verdict

    @property
    def rules(self) -> set[str]:
        return {fault.rule for fault in self.verdict.faults}

    @property
    def said(self) -> dict[str, list[list[Any]]]:
        faults = {(fault.rule, fault.line, fault.part) for fault in self.verdict.faults}
        found = (
            (c.resource, c.key, f"{c.first}", f"{c.last}", round(c.peak, 6), round(c.there, 6))
            for c in self.verdict.conflicts
        )
        return {
            "impossible": [list(each) for each in sorted(faults, key=str)],
            "in conflict": [list(each) for each in sorted(found)],
        }


def pairs(count: int = 50) -> list[Pair]:
    """So many pairs, the same ones each time; among them each rule is broken that 300 seeds can break."""
    every = [pair(seed) for seed in range(300)]
    chosen: list[Pair] = []
    broken: set[str] = set()
    for each in every:
        if each.rules - broken:
            chosen.append(each)
            broken |= each.rules
    others = [each for each in every if each not in chosen]
    good = [each for each in others if not each.rules]
    return [*chosen, *good[:15], *(each for each in others if each.rules)][:count]


def pair(seed: int) -> Pair:
    chance = Random(seed)
    file = _drawn(chance)
    season, plan = json.loads(write_season(file)), json.loads(write_plan(_planned(file, chance)))
    if chance.random() < 0.2:
        _some_days_later(season, plan, chance.randint(1, 40))
    if chance.random() < 0.3:
        _another_nursery(season, chance)
    if chance.random() < 0.8:
        for _ in range(chance.choice((1, 1, 2))):
            _spoil(season, plan, chance)
    return judged(season, plan)


def judged(season: Json, plan: Json) -> Pair:
    read = season_from(_labelled_by_key(season))
    return Pair(season, plan, judge_plan(read, plan_from(plan, read)))


def _labelled_by_key(season: Json) -> Json:
    """Our referee calls a line by its label, which people know; referees compare keys."""
    known = deepcopy(season)
    for line in (*known["lines"], *(each["line"] for each in known.get("promised", ()))):
        line["label"] = line["key"]
    return known


def _drawn(chance: Random) -> SeasonFile:
    if chance.random() < 0.4:
        return read_season(chance.choice(FILES).read_text())
    season = seasons.season(chance)
    return SeasonFile(season, tuple(seasons.wish(chance, f"line {number}") for number in (1, 2)))


def _planned(file: SeasonFile, chance: Random) -> PlanFile:
    """As promised, or each as if alone, which makes conflicts; now and then with what was promised before."""
    again = tuple(PlannedLine(each.plan.wish, None, each.plan) for each in file.promised)
    plan = plan_of(file)
    if chance.random() < 0.4:
        alone = tuple(PlannedLine(wish, None, _alone(file, wish)) for wish in file.lines)
        plan = PlanFile(plan.today, alone, Goodness("each as if alone"))
    return replace(plan, lines=plan.lines + (again if chance.random() < 0.7 else ()))


def _alone(file: SeasonFile, wish: Any) -> Any:
    try:
        return plan_as_asked(file.season, wish)
    except Impossible:
        return None


# --- what is changed ---------------------------------------------------------------------------------------


def _some_days_later(season: Json, plan: Json, days: int) -> None:
    season["today"] = plan["today"] = _moved(season["today"], days)


def _another_nursery(season: Json, chance: Random) -> None:
    """The season changes under the plan: another warmth, a place closed, seed that is late, a protocol lost."""
    place = chance.choice(season["places"])
    what = chance.choice(("warmth", "warmth", "kinds", "open", "seed", "line", "recipe"))
    if what == "warmth":
        place["warmth"] = {"usual": chance.choice((9, 12, 20, 33))}
    elif what == "kinds":
        place["kinds"] = [chance.choice(("cold", "bench", "healing", "staging"))]
    elif what == "open":
        place["open"] = [{"first": season["today"], "last": _moved(season["today"], chance.choice((0, 30, 60)))}]
    elif what == "seed" and season["materials"]:
        chance.choice(season["materials"])["seed_on_hand"] = _moved(season["today"], 90)
    elif what == "line" and season["lines"]:
        chance.choice(season["lines"])[chance.choice(("recipe", "scion", "rootstock"))] = None
    elif season["recipes"]:
        chance.choice(season["recipes"])[chance.choice(("rootstock", "scion", "union", "plain"))] = []


def _spoil(season: Json, plan: Json, chance: Random) -> None:
    """One thing in one part of one line of the plan."""
    courses = [line["plan"] for line in plan["lines"] if line.get("plan") and line["plan"]["parts"]]
    if not courses:
        return
    course = chance.choice(courses)
    part = chance.choice(course["parts"])
    groups = [group for name in ("sowings", "stays", "works") for group in part[name]]
    what = chance.randrange(6)
    if what == 0:
        _spoil_course(course, part, chance)
    elif what == 1:
        _spoil_part(season, part, chance)
    elif groups and what == 2:
        name = chance.choice([name for name in ("sowings", "stays", "works") if part[name]])
        part[name].remove(chance.choice(part[name]))
    elif groups and what == 3:
        part["stays"].append(deepcopy(chance.choice(part["stays"])))
    elif groups:
        _spoil_group(chance.choice(groups), season, chance)


def _spoil_course(course: Json, part: Json, chance: Random) -> None:
    what = chance.randrange(3)
    if what == 0:
        course["pickup"] = _moved(course["pickup"], chance.choice((-60, -7, -1, 1, 7)))
    elif what == 1:
        course["parts"].append(deepcopy(part))
    else:
        course["parts"] = []


def _spoil_part(season: Json, part: Json, chance: Random) -> None:
    sizing = part["sizing"]
    what = chance.choice(("plants", "graft_day", "graft_day", "ready", "grafts", "scion_seeds", "chance"))
    if what == "plants":
        part["plants"] = chance.choice((0, -1, part["plants"] - 1, part["plants"] + 3))
    elif what == "graft_day":
        day = part.get("graft_day")
        later = day and _moved(day, chance.choice((-3, -1, 1, 3)))
        part["graft_day"] = chance.choice((None, later)) if day else season["today"]
    elif what == "ready":
        part["ready"] = _moved(part["ready"], chance.choice((-1, 1, 5)))
    else:
        sizing[what] = 0.5 if what == "chance" else chance.choice((0, 1))


def _spoil_group(group: Json, season: Json, chance: Random) -> None:
    """A sowing, a stay or a piece of work: one of its fields."""
    name = chance.choice([name for name in group if name not in ("part", "note", "care", "stage_kind", "kind")])
    old = group[name]
    if name in ("day", "first", "emerges", "graftable_from", "graftable_to"):
        group[name] = _moved(old, chance.choice((-60, -3, -1, 1, 3, 60)))
    elif name == "place":
        group[name] = chance.choice(["nowhere", *(place["key"] for place in season["places"])])
    elif name in ("stage", "subject", "container", "material"):
        group[name] = chance.choice(("scion", "union")) if name == "subject" else chance.choice(("waiting", "x"))
    elif name == "hours":
        for each in old:
            each["hours"] *= chance.choice((-1, 0.5, 0.9999999, 1.5))
    elif isinstance(old, int | float):
        group[name] = chance.choice((0, -1, 1, old - 1, old + 1, old * 2))


def _moved(day: str, days: int) -> str:
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


# --- written -----------------------------------------------------------------------------------------------


def texts(count: int) -> Iterator[tuple[str, str]]:
    """Names of files and their text."""
    tried = [judged(each.season, each.plan) for each in readings.readings().values()]
    for number, each in enumerate(pairs(count) + tried, start=1):
        for name, value in (("season", each.season), ("plan", each.plan), ("verdict", each.said)):
            yield f"{number:02}.{name}.json", json.dumps(value, indent=1, ensure_ascii=False)


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in texts(int(sys.argv[2]) if len(sys.argv) > 2 else 50):
        (folder / name).write_text(text)
