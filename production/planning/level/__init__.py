"""Levelling a whole season: every line where it fits, late as little as can be, with few customers to be told."""

from production.planning.level.cost import Cost, Told
from production.planning.level.moves import Move
from production.planning.level.season import Effort, Levelled, Progress, level

__all__ = ["Cost", "Effort", "Levelled", "Move", "Progress", "Told", "level"]
