"""Seasons and plans as files: JSON of a published, versioned format that FORMAT.md defines field by field."""

from .plan import (
    DayHours,
    Goodness,
    HandsLoad,
    Loads,
    PlaceLoad,
    PlanFile,
    PlannedLine,
    Run,
    Said,
    plan_from,
    read_plan,
    write_plan,
)
from .season import Promised, SeasonFile, read_season, season_from, write_season
from .shapes import FileFault
from .text import BadFile, parsed

__all__ = [
    "BadFile",
    "DayHours",
    "FileFault",
    "Goodness",
    "HandsLoad",
    "Loads",
    "PlaceLoad",
    "PlanFile",
    "PlannedLine",
    "Promised",
    "Run",
    "Said",
    "SeasonFile",
    "parsed",
    "plan_from",
    "read_plan",
    "read_season",
    "season_from",
    "write_plan",
    "write_season",
]
