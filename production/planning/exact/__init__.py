"""Deciding exactly: lines as variables of a constraint model, where looking for one good way does not settle it.

The planner proper looks for a plan and mostly finds one. Where it finds none, only a proof may say no; CP-SAT
gives it, or finds the plan that was overlooked. The model means what the planner means, to the night and tray.
"""
