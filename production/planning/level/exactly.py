"""Some lines of a season levelled exactly, beside all others where they are: one aim after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from ortools.sat.python import cp_model

from production.planning.claims import place_claims
from production.planning.exact.begun import Value, values_of
from production.planning.exact.limits import Amount, Limits, Literal
from production.planning.exact.line import LineVars, divisions
from production.planning.exact.proof import solver_of
from production.planning.level.board import Board
from production.planning.level.cost import Cost, Told, pickups_for, total
from production.planning.level.standing import Standing, limit
from production.planning.load import Load
from production.planning.options import Ways
from production.planning.terms import Impossible, LinePlan

NO_LIMIT = 10**9
NOTHING = Cost()


@dataclass(frozen=True, slots=True)
class Levelling:
    """Plans for the lines asked for, what they cost, and a cost that nothing can fall below.

    `proved` when both are equal: nothing better is possible while the others stand where they stand.
    """

    plans: tuple[LinePlan | None, ...]
    cost: Cost
    bound: Cost
    proved: bool


class Choice:
    """One line: left over, standing as it stands, or in one of its divisions on one of its pickups."""

    def __init__(self, limits: Limits, board: Board, number: int, most: Cost | None = None) -> None:
        self.model, self.number = limits.model, number
        self.line, self.known = board.lines[number], board.as_it_stands[number]
        self.left_over, self.stands = self.model.new_bool_var(""), self.model.new_bool_var("")
        self.vars = _line(limits, board, self.line, [self.left_over, self.stands], most)
        self.placed = self.model.new_bool_var("")
        self.model.add_exactly_one(self.left_over, self.stands, self.placed)
        if self.vars is None:
            self.model.add(self.placed == 0)
        if self.line.plan is None:
            self.model.add(self.stands == 0)
        self.late, self.told_anew = self._late(limits), self._told_anew(limits)

    def _late(self, limits: Limits) -> Amount:
        if self.vars is None or self.line.may_be_late <= 0:
            return 0
        days, last = self.model.new_int_var(0, limits.load.size, ""), limits.load.index(self.line.last)
        self.model.add(days >= self.vars.pickup - last).only_enforce_if(self.placed)
        return days * self.line.weight

    def _told_anew(self, limits: Limits) -> Amount:
        if self.vars is None or self.line.told is None:
            return 0
        another, told = self.model.new_bool_var(""), limits.load.index(self.line.told)
        self.model.add(self.vars.pickup == told).only_enforce_if(self.placed, another.negated())
        return another

    def cost(self) -> tuple[Amount, ...]:
        """In the order of `Cost`."""
        known = self.known or Cost()
        return (
            self.left_over * self.line.weight,
            self.late + self.stands * known.late,
            self.told_anew + self.stands * known.told_anew,
            self.placed + 0,
            (self.vars.departure() if self.vars else 0) + self.stands * known.nights,
        )

    def values(self, plan: LinePlan | None, load: Load) -> Iterator[Value]:
        """What becomes of the line if it has this plan."""
        stands = plan is not None and plan is self.line.plan
        yield self.left_over, int(plan is None)
        yield self.stands, int(stands)
        if self.vars and plan and not stands:
            yield from values_of(self.vars, plan, load)

    def standing(self, board: Board) -> Standing:
        here = self.model.new_bool_var("")
        self.model.add(here + self.placed == 1)
        return Standing(board.spots_as_it_stands(self.number), here, self.stands)

    def plan(self, solver: cp_model.CpSolver, load: Load) -> LinePlan | None:
        if solver.boolean_value(self.stands):
            return self.line.plan
        return self.vars.settle(solver, load) if self.vars else None


def level_exactly(
    board: Board,
    numbers: Sequence[int],
    effort: float,
    all_placed: bool = False,
    known: Sequence[LinePlan | None] | None = None,
    least: Cost = NOTHING,
) -> Levelling | None:
    """The best plans for these lines of a board on which they stand nowhere; None if the effort did not suffice.

    The aims are met in the order of `Cost`: the best of each is found, and then kept while the next is sought.
    With `all_placed` no line may be left over, and None is also the answer where that cannot be. The search begins
    from `known` plans, by which it gets as far as they are; `least` is a cost that nothing can fall below.
    """
    model = cp_model.CpModel()
    limits = Limits(model, board.load, board.load.size)
    most = _most(board, numbers, known, least) if known else None
    choices = [Choice(limits, board, number, most) for number in numbers]
    for choice in choices if all_placed else ():
        model.add(choice.left_over == 0)
    limit(limits, board, [choice.standing(board) for choice in choices if choice.line.plan])
    limits.close()
    aims = [sum(amounts) for amounts in zip(*(choice.cost() for choice in choices), strict=True)]
    solver, bounds, proved, left = None, list[int](), True, effort
    if known:
        _begin_from_known(model, choices, known, board.load, effort)
    for at, aim in enumerate(aims):
        if most and most[at] == least[at] and tuple(bounds) == least[:at]:
            model.add(aim <= least[at])  # no need to ask
            bounds.append(least[at])
            continue
        model.minimize(aim)
        asked = solver_of(left / (len(aims) - at))
        status = asked.solve(model)
        left -= asked.response_proto.deterministic_time
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            proved = False
            break
        solver, proved = asked, proved and status == cp_model.OPTIMAL
        bounds.append(round(solver.best_objective_bound) if proved else 0)
        model.add(aim <= round(solver.objective_value))
        _begin_from(model, solver)
    return _read(board, choices, solver, bounds, proved) if solver else None


def _begin_from_known(
    model: cp_model.CpModel,
    choices: Sequence[Choice],
    known: Sequence[LinePlan | None],
    load: Load,
    effort: float,
) -> None:
    """Hint all variables of these plans: a search with nothing to choose finds those that follow from the rest."""
    for choice, plan in zip(choices, known, strict=True):
        for variable, value in choice.values(plan, load):
            model.add_hint(variable, value)
    solver = solver_of(effort)
    solver.parameters.fix_variables_to_their_hinted_value = True
    if solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        _begin_from(model, solver)


def _most(board: Board, numbers: Sequence[int], known: Sequence[LinePlan | None], least: Cost) -> Cost:
    """What a best season may cost of each aim: as much as the known one, while no aim before it could be lower."""
    cost = total(board.cost_of(number, plan) for number, plan in zip(numbers, known, strict=True))
    alike = [mine == low for mine, low in zip(cost, least, strict=True)]
    return Cost(*(mine if all(alike[:at]) else NO_LIMIT for at, mine in enumerate(cost)))


def _begin_from(model: cp_model.CpModel, solver: cp_model.CpSolver) -> None:
    model.clear_hints()  # type: ignore[no-untyped-call]
    for at, value in enumerate(solver.response_proto.solution):
        model.add_hint(model.get_int_var_from_proto_index(at), value)


def _read(
    board: Board, choices: Sequence[Choice], solver: cp_model.CpSolver, bounds: list[int], proved: bool
) -> Levelling:
    trial = board.load.copy()
    for choice in choices:
        if choice.line.plan and not solver.boolean_value(choice.placed):
            trial.add(*place_claims(choice.line.plan, choice.line.wish.key))
    plans = tuple(choice.plan(solver, trial) for choice in choices)
    cost = total(board.cost_of(choice.number, plan) for choice, plan in zip(choices, plans, strict=True))
    return Levelling(plans, cost, Cost(*bounds, *[0] * (len(Cost()) - len(bounds))), proved)


def _line(
    limits: Limits, board: Board, line: Told, elsewise: Sequence[Literal], most: Cost | None
) -> LineVars | None:
    """Nothing where no division leads to any pickup, even if the line were alone beside those that stand."""
    try:
        ways = Ways(board.load, line.wish)
    except Impossible:
        return None
    pickups = [day for day in pickups_for(board.season, line) if most is None or _bearable(line, day, most)]
    found = divisions(ways, pickups)
    return LineVars(limits, ways, found, elsewise) if found else None


def _bearable(line: Told, pickup: date, most: Cost) -> bool:
    """Whether a pickup alone costs no more than all lines together may, where only that is proved to be least."""
    return line.lateness(pickup) <= most.late and int(line.told not in (None, pickup)) <= most.told_anew
