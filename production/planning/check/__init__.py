"""The referee: what is impossible in a plan, and what is in conflict.

It shares no code with the planner, only the terms. It believes nothing that a plan says of itself: nights, thermal
sums, containers and hours are reckoned again here by plain loops, slowly and readably.
"""

from production.planning.check.case import Fault
from production.planning.check.near import near
from production.planning.check.overload import conflicts
from production.planning.check.verdict import faults

__all__ = ["Fault", "conflicts", "faults", "near"]
