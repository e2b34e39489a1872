"""Levelling a whole season: every line where it fits, late as little as can be, with few customers to be told.

`season` is the course of it and `walk` its search; `board` is what is searched. How a place is found on a board:
`opening`, from `part`, `chains`, `sides` and `sowings`, on what is `free` for what a kind of plants `needs`.
"""

from production.planning.level.board import Board
from production.planning.level.cost import Cost, Told
from production.planning.level.exactly import level_exactly
from production.planning.level.moves import Move, moves_between
from production.planning.level.season import Effort, Levelled, Progress, Watch, level

__all__ = [
    "Board", "Cost", "Effort", "Levelled", "Move", "Progress", "Told", "Watch",
    "level", "level_exactly", "moves_between",
]  # fmt: skip
