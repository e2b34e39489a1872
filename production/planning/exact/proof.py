"""Several lines placed together on one load, or the proof that it cannot be done."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum

from ortools.sat.python import cp_model

from production.planning.exact.limits import Limits
from production.planning.exact.line import Division, LineVars, divisions
from production.planning.load import Load
from production.planning.options import Ways
from production.planning.terms import LinePlan, Wish

EFFORT = 2.0  # CP-SAT's own measure of work, about seconds; the same effort gives the same answer on any machine
EACH = 0.1  # of it, at most for one small question
A_VARIABLE = 7e-6  # of it: writing a model down takes as long as solving it, and grows with its variables
TOGETHER = 3  # pickups in the first small question


class Said(Enum):
    FITS = "fits"
    CANNOT = "cannot"  # proved
    UNDECIDED = "undecided"  # the effort was spent before either was found


@dataclass(frozen=True, slots=True)
class Joint:
    """What was said of some lines together, and their plans in the order asked, if they fit."""

    said: Said
    plans: tuple[LinePlan, ...] = ()


def place(ways: Ways, pickups: Sequence[date], effort: float = EFFORT) -> Joint:
    """The wish of these ways on the first of these pickups, a few of them at a time, that takes it.

    Small questions are answered so much sooner than large ones that asking several of them is quicker. Those that
    were too hard are asked again with what is left of the effort, for a few hard ones need more than their share.
    """
    left, hard = effort, list[Division]()
    for each, asked in ((EACH, _all_of(ways, pickups)), (effort, hard)):
        for division in asked:
            joint, spent = _solved(ways.load, [(ways, [division])], min(left, each))
            if joint.plans:
                return joint
            left -= spent
            undecided = joint.said is Said.UNDECIDED
            if left <= 0 or (undecided and asked is hard):
                return Joint(Said.UNDECIDED)
            if undecided:
                hard.append(division)
    return Joint(Said.CANNOT)


def _all_of(ways: Ways, pickups: Sequence[date]) -> Iterator[Division]:
    return (division for few in _growing(pickups) for division in divisions(ways, few))


def _growing(pickups: Sequence[date]) -> Iterator[Sequence[date]]:
    """Most questions end with the first days or with none."""
    first, size = 0, TOGETHER
    while first < len(pickups):
        yield pickups[first : first + size]
        first, size = first + size, 2 * size


def place_together(load: Load, asked: Sequence[tuple[Wish, Sequence[date]]], effort: float = EFFORT) -> Joint:
    """Each wish on one of its pickups, all together: the pickups nearest to what was asked, then the usual nights.

    The load is left as it is. The plans hold together whatever the order in which they are taken.
    """
    each = [Ways(load, wish) for wish, _pickups in asked]
    found = [divisions(ways, pickups) for ways, (_wish, pickups) in zip(each, asked, strict=True)]
    return _solved(load, list(zip(each, found, strict=True)), effort)[0] if all(found) else Joint(Said.CANNOT)


def _solved(load: Load, asked: Sequence[tuple[Ways, Sequence[Division]]], effort: float) -> tuple[Joint, float]:
    """The answer, and the effort that it took."""
    model = cp_model.CpModel()
    each = [division for _ways, found in asked for division in found]
    limits = Limits(model, load, 1 + max(one.latest for one in each), min(one.earliest for one in each))
    lines = [LineVars(limits, ways, found) for ways, found in asked]
    limits.close()
    nearest = sum(line.off() for line in lines)
    model.minimize(nearest * 1000 * len(lines) + sum(line.departure() for line in lines))
    solver = solver_of(effort)
    status = solver.solve(model)
    spent = solver.response_proto.deterministic_time + A_VARIABLE * len(model.proto.variables)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        trial = load.copy()
        plans = [line.settle(solver, trial) for line in lines]
        return Joint(Said.FITS, tuple(plan for plan in plans if plan)), spent
    return Joint(Said.CANNOT if status == cp_model.INFEASIBLE else Said.UNDECIDED), spent


def solver_of(effort: float) -> cp_model.CpSolver:
    """One worker and a limit in its own measure, so that the same question gets the same answer."""
    solver = cp_model.CpSolver()
    parameters = solver.parameters
    parameters.num_workers = 1
    parameters.random_seed = 1
    parameters.max_deterministic_time = effort
    # Measured on random seasons: with long looks before the search most of a small question's time went there.
    parameters.cp_model_probing_level = 0
    parameters.max_presolve_iterations = 1
    parameters.symmetry_level = 0
    parameters.linearization_level = 0
    return solver
