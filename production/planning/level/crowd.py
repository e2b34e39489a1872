"""What a crowd must cost, by linear programs that ask less than a season does, one for each stage after the start.

Of each line, a share of its plants may enter that stage on each day on which they could if the line were alone; or
the line stands as it stands, or is left over. What they then take for certain, room of that stage for its shortest
nights and hands on the day they enter, is no more than there is. Parts, whole containers and all other stages are
looked away from, so no levelling costs less than any of these does.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from ortools.linear_solver.python import model_builder as linear

from production.planning.backward import NEVER, departures_of, last_collection_day, may_hand_over
from production.planning.level.board import Board
from production.planning.level.cost import Cost
from production.planning.load import EASE, Floats, Load
from production.planning.options import Ways, part_sizes
from production.planning.terms import HAND_OVER, Wish
from production.planning.works import hours_of

AROUND = (10, 30)  # days before and after those on which too much is asked, to and from which lines may move
EXACT = 1e-6  # to which the program is solved; so much of a bound is given up

Resource = tuple[str, tuple[int, ...]]  # some places together, or a set of skills, by their rows on the load
Takes = tuple[tuple[tuple[Resource, int], float], ...]  # by resource and day
Aims = tuple[int, int, int, int]  # as in `Cost`, without the nights


@dataclass(frozen=True, slots=True)
class Choice:
    """What may become of a line: what it costs at least, and what it takes for certain."""

    aims: Aims
    takes: Takes = ()


def crowded_cost(board: Board) -> Cost:
    """A cost that no levelling of the lines on this board, which must be empty, falls below."""
    stages = max((len(ways.legs) for n in range(len(board.lines)) if (ways := board.ways(n))), default=0)
    return max((_cost_of_stage(board, stage) for stage in range(stages)), default=Cost())


def _cost_of_stage(board: Board, stage: int) -> Cost:
    crowd = _Crowd(board, stage)
    alike = Counter(crowd.lines())
    return _Program(alike, crowd.free).least() if alike else Cost()


class Shape:
    """Plants of one kind and number, whoever wants them when: on which days they enter a stage for a pickup."""

    def __init__(self, ways: Ways, stage: int) -> None:
        wish, load = ways.wish, ways.load
        sizes = {size for parts in ways.numbers_of_parts() for size in part_sizes(wish.quantity, parts)}
        each = [ways.allowed(size) for size in sorted(sizes)]
        self.load, self.allowed = load, each[0]  # where many fit, fewer do
        self.stage, leg = stage, self.allowed.course.legs[stage]
        rows = tuple(sorted(self.allowed.rows(leg)))
        unit = min(leg.unit_in(load.season.places[row]) for row in rows)
        sized = [(allowed.course.legs[stage], allowed.course.plants) for allowed in each]
        self.nights = leg.nights.shortest
        self.room: Resource = ("place", rows)
        self.takes = wish.quantity * min(leg.containers / plants for leg, plants in sized) * unit
        hours = [_hours_at_entry(load, leg.stage.works, leg.plants) for leg, _plants in sized]
        shares = [wish.quantity / plants for _leg, plants in sized]
        self.hours = {
            index: min(each[index] * share for each, share in zip(hours, shares, strict=True))
            for index in hours[0]
        }
        self._entries: dict[int, Sequence[int]] = {}

    def entries(self, pickup: int) -> Sequence[int]:
        if pickup not in self._entries:
            self._entries[pickup] = self._found(pickup)
        return self._entries[pickup]

    def _found(self, pickup: int) -> Sequence[int]:
        last = last_collection_day(self.load, self.allowed.course.wish, pickup)
        if last - pickup > self.allowed.course.keeping or not may_hand_over(self.allowed, pickup):
            return ()
        costs = departures_of(self.allowed, pickup, last)
        found: list[int] = (costs.low + np.flatnonzero(costs.after[self.stage] < NEVER)).tolist()
        return found

    def asks(self, start: int) -> Iterator[tuple[tuple[Resource, int], float]]:
        for night in range(start, start + self.nights):
            yield (self.room, night), self.takes
        for index, hours in self.hours.items():
            yield (("hands", (index,)), start), hours


def _hours_at_entry(load: Load, works: Iterable, plants: int) -> dict[int, float]:
    found: dict[int, float] = defaultdict(float)
    for rule in works:
        if not rule.after and not rule.at_end and rule.kind != HAND_OVER:
            for skill, hours in hours_of(rule, plants):
                for index in load.sets_of[rule.part][skill]:
                    found[index] += hours
    return found


class _Crowd:
    """The lines of a board that may get into each other's way, each with its choices."""

    def __init__(self, board: Board, stage: int) -> None:
        self.board, self.load, self.stage = board, board.load, stage
        self._shapes: dict[Wish, Shape | None] = {}
        self.shapes = [self._shape(number) for number in range(len(board.lines))]
        resources = {resource for shape in self.shapes if shape for resource in _resources(shape)}
        self.free = {each: self._free(each) for each in sorted(resources)}
        self._within: dict[tuple[str, int], list[Resource]] = defaultdict(list)
        for resource in self.free:
            for row in resource[1]:
                self._within[resource[0], row].append(resource)
        self.tight = self._tight()

    def _shape(self, number: int) -> Shape | None:
        """None for what is not grafted: such lines are looked away from."""
        wish = self.board.lines[number].wish
        kind = replace(wish, key="", label="", pickup=self.load.first, earlier=0, later=0, weight=1.0)
        if kind not in self._shapes:
            ways = self.board.ways(number) if wish.kind == "grafted" else None
            has_it = ways and self.stage < len(ways.legs)
            self._shapes[kind] = Shape(ways, self.stage) if ways and has_it else None
        return self._shapes[kind]

    def _free(self, resource: Resource) -> Floats:
        what, rows = resource
        there, taken = (
            (self.load.capacity, self.load.used) if what == "place" else (self.load.hours, self.load.asked)
        )
        free: Floats = np.maximum(there[list(rows)] - taken[list(rows)], 0.0).sum(axis=0)
        return free

    def _tight(self) -> set[tuple[Resource, int]]:
        """Resources by day on which too much would be asked if all lines had what they stand for or ask for."""
        asked = {resource: np.zeros(self.load.size) for resource in self.free}
        for number in range(len(self.board.lines)):
            for (resource, day), amount in self._standing(number) or self._as_asked(number):
                asked[resource][day] += amount
        tight = set[tuple[Resource, int]]()
        for resource, amounts in asked.items():
            for day in np.flatnonzero(amounts > self.free[resource] + EASE).tolist():
                around = range(max(day - AROUND[0], 0), min(day + AROUND[1], self.load.size))
                tight |= {(resource, each) for each in around}
        return tight

    def _standing(self, number: int) -> list[tuple[tuple[Resource, int], float]]:
        spots = self.board.spots_as_it_stands(number)
        stays = (("place", row, range(first, leaves), load) for row, first, leaves, load in spots.stays)
        work = (("hands", index, range(day, day + 1), hours) for index, day, hours in spots.work)
        return [
            ((resource, day), amount)
            for what, row, days, amount in (*stays, *work)
            for resource in self._within.get((what, row), ())
            for day in days
        ]

    def _as_asked(self, number: int) -> Iterator[tuple[tuple[Resource, int], float]]:
        shape = self.shapes[number]
        pickups = self.board.pickups(number)
        starts = shape.entries(self.load.index(pickups[0])) if shape and pickups else ()
        return self._wider(shape, starts[-1]) if shape and starts else iter(())

    def _wider(self, shape: Shape, start: int) -> Iterator[tuple[tuple[Resource, int], float]]:
        """What a shape takes of its places is taken of all groups of places that hold them."""
        for ((what, rows), day), amount in shape.asks(start):
            for resource in self._within[what, rows[0]]:
                if set(rows) <= set(resource[1]):
                    yield (resource, day), amount

    def lines(self) -> Iterator[tuple[Choice, ...]]:
        """The choices of each line that must take anything on tight days, or pay for taking nothing there."""
        known: dict[Hashable, tuple[Choice, ...]] = {}
        for number, shape in enumerate(self.shapes):
            if shape is None:
                continue
            line, wish = self.board.lines[number], self.board.lines[number].wish
            days = (wish.pickup, wish.earlier, wish.later, line.told, line.may_be_late)
            alike = (id(shape), days, line.weight, self.board.spots_as_it_stands(number))
            if alike not in known:
                known[alike] = tuple(_worth_a_look(self._choices(number, shape)))
            if known[alike][0] != Choice((0, 0, 0, 0)):
                yield known[alike]

    def _choices(self, number: int, shape: Shape) -> Iterator[Choice]:
        line, stands = self.board.lines[number], self.board.as_it_stands[number]
        if stands:
            yield self._choice((0, stands.late, stands.told_anew, 0), self._standing(number))
        late, told_anew = dict[int, int](), dict[int, int]()
        for pickup in self.board.pickups(number):
            days_late, another = line.lateness(pickup), int(line.told not in (None, pickup))
            for start in shape.entries(self.load.index(pickup)):
                late.setdefault(start, days_late)
                told_anew[start] = min(told_anew.get(start, 1), another)
        for start in late:
            yield self._choice((0, late[start], told_anew[start], 1), self._wider(shape, start))
        yield Choice((line.weight, 0, 0, 0))

    def _choice(self, aims: Aims, takes: Iterable[tuple[tuple[Resource, int], float]]) -> Choice:
        tight: dict[tuple[Resource, int], float] = defaultdict(float)
        for at, amount in takes:
            if at in self.tight:
                tight[at] += amount
        return Choice(aims, tuple(sorted(tight.items())))


def _resources(shape: Shape) -> Iterator[Resource]:
    yield shape.room
    yield from (("hands", (index,)) for index in shape.hours)


def _worth_a_look(choices: Iterable[Choice]) -> Iterator[Choice]:
    """Of those that take the same, one as cheap as any; none that costs no less than one that takes nothing."""
    cheapest: dict[Takes, Aims] = {}
    for choice in choices:
        known = cheapest.get(choice.takes, choice.aims)
        cheapest[choice.takes] = tuple(map(min, known, choice.aims))  # type: ignore[assignment]
    free = cheapest.get(())
    for takes, aims in sorted(cheapest.items(), key=lambda each: (each[1], each[0])):
        if not takes or free is None or any(mine < least for mine, least in zip(aims, free, strict=True)):
            yield Choice(aims, takes)


class _Program:
    """The linear program: of each kind of line, how many make which choice."""

    def __init__(self, alike: Counter[tuple[Choice, ...]], free: Mapping[Resource, Floats]) -> None:
        self.model = linear.Model()  # type: ignore[no-untyped-call]
        self.aims: list[Aims] = []
        taken: dict[tuple[Resource, int], tuple[list[linear.Variable], list[float]]] = {}
        self.shares = []
        for choices, lines in alike.items():
            shares = [self.model.new_num_var(0.0, lines, "") for _ in choices]
            self.model.add(linear.LinearExpr.sum(shares) == lines)
            for share, choice in zip(shares, choices, strict=True):
                for at, amount in choice.takes:
                    those, amounts = taken.setdefault(at, ([], []))
                    those.append(share)
                    amounts.append(amount)
            self.shares += shares
            self.aims += [choice.aims for choice in choices]
        for (resource, day), (those, amounts) in taken.items():
            limit = float(free[resource][day]) + EASE
            self.model.add(linear.LinearExpr.weighted_sum(those, amounts) <= limit)

    def least(self) -> Cost:
        """The least of each aim in turn, while those before it are kept at their least."""
        found = list[int]()
        for at in range(len(self.aims[0])):
            amounts = [aims[at] for aims in self.aims]
            step = math.gcd(*amounts)
            least = step * math.ceil(self._least(amounts) / step * (1 - EXACT) - EXACT) if step else 0
            found.append(least)
            if step:
                self.model.add(linear.LinearExpr.weighted_sum(self.shares, [*map(float, amounts)]) <= least)
        return Cost(*found)

    def _least(self, amounts: Sequence[int]) -> float:
        self.model.minimize(linear.LinearExpr.weighted_sum(self.shares, [*map(float, amounts)]))
        solver = linear.Solver("GLOP")
        status = solver.solve(self.model)
        return float(solver.objective_value) if status == linear.SolveStatus.OPTIMAL else 0.0
