"""What a levelling changes, as moves in the words of the trade: each alone, or with the ones that it needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from production.planning import wording
from production.planning.claims import Claims, place_claims
from production.planning.level.board import Board
from production.planning.level.cost import Told
from production.planning.terms import LinePlan, Season


@dataclass(frozen=True, slots=True)
class Move:
    """One line planned otherwise than it stands.

    `tells` is the pickup that the customer must be told, where it changes. `needs` are the keys of other moves
    without which this one would ask too much of a place or of people; with those it is acceptable.
    """

    key: str
    label: str
    words: str
    plan: LinePlan
    tells: date | None
    needs: tuple[str, ...] = ()


def moves_between(season: Season, lines: Sequence[Told], plans: Mapping[str, LinePlan]) -> tuple[Move, ...]:
    """The moves that lead from the lines as they stand to these plans, in order of pickup."""
    moved = {
        line.wish.key: line for line in lines if line.wish.key in plans and plans[line.wish.key] is not line.plan
    }
    as_it_stands = _AsItStands(season, lines, plans)
    moves = (
        Move(
            key,
            line.wish.label,
            words(line, plans[key], season.today),
            plans[key],
            plans[key].pickup if line.told not in (None, plans[key].pickup) else None,
            tuple(sorted(as_it_stands.needed(key, moved))),
        )
        for key, line in moved.items()
    )
    return tuple(sorted(moves, key=lambda move: (move.plan.pickup, move.label)))


class _AsItStands:
    """The season with every line as it stands, on which moves are tried one by one."""

    def __init__(self, season: Season, lines: Sequence[Told], plans: Mapping[str, LinePlan]) -> None:
        self.board = Board(season, lines)
        self.plans = plans
        self.number = {line.wish.key: number for number, line in enumerate(lines)}
        for number, line in enumerate(lines):
            self.board.put(number, line.plan)

    def needed(self, key: str, moved: Mapping[str, Told]) -> set[str]:
        """Other moves that must come along: those whose lines stand, now, where this one wants to be."""
        together = [key]
        for each in together:
            self._move(each)
        try:
            while crowded := self._crowded(together):
                more = [other for other in moved if other not in together and self._stands_in(other, crowded)]
                if not more:
                    break  # too much is asked there whatever comes along: a conflict that was there before
                for other in more:
                    self._move(other)
                together += more
        finally:
            for each in together:
                number = self.number[each]
                self.board.put(number, self.board.lines[number].plan)
        return set(together[1:])

    def _move(self, key: str) -> None:
        self.board.put(self.number[key], self.plans[key])

    def _crowded(self, together: Sequence[str]) -> list[Claims]:
        claims = (place_claims(self.plans[key], key) for key in together)
        return [each for each in claims if self.board.over(each)]

    def _stands_in(self, key: str, crowded: Sequence[Claims]) -> bool:
        """Whether a line, as it stands, takes room or hands that these claims ask for at the same time."""
        plan = self.board.lines[self.number[key]].plan
        if plan is None:
            return False
        room, hands = place_claims(plan, key)
        for wanted, work in crowded:
            places = any(
                a.place == b.place and a.first < b.leaves and b.first < a.leaves for a in room for b in wanted
            )
            if places or {a.day for a in hands} & {b.day for b in work}:
                return True
        return False


# --- words --------------------------------------------------------------------------------------------------


def words(line: Told, plan: LinePlan, today: date) -> str:
    """What changes, in a sentence: 'Graft on Tue 17 March instead of Thu 19 March; pickup stays Mon 20 April.'"""
    was = line.plan
    said = [_pickup(was, plan, today)]
    if was is None:
        return f"Room for it: {_begin(plan, today)}; {said[0]}."
    if _days(was) != _days(plan):
        said.insert(0, f"{_begin(plan, today)} instead of {wording.day_words(_days(was)[0], today)}")
    elif len(said) == 1 and was.pickup == plan.pickup:
        said.insert(0, "other nights or places between")
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}."


def _begin(plan: LinePlan, today: date) -> str:
    days = [wording.day_words(day, today) for day in _days(plan)]
    verb = {"grafted": "graft", "plain": "sow", "room": "room from"}[plan.wish.kind]
    return f"{verb}{' ' if plan.wish.kind == 'room' else ' on '}{' and '.join(days)}"


def _days(plan: LinePlan) -> list[date]:
    """The days on which a line's plants are grafted, or sown, or its room begins."""
    if plan.wish.kind == "grafted":
        return sorted({part.graft_day for part in plan.parts if part.graft_day})
    if plan.wish.kind == "plain":
        return sorted({sowing.day for part in plan.parts for sowing in part.sowings})
    return sorted({stay.first for stay in plan.stays})


def _pickup(was: LinePlan | None, plan: LinePlan, today: date) -> str:
    day = wording.day_words(plan.pickup, today)
    if was is None:
        return f"pickup {day}"
    if was.pickup == plan.pickup:
        return f"pickup stays {day}"
    return f"pickup {day} instead of {wording.day_words(was.pickup, today)}"
