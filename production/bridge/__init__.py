"""The one place that knows both tables and terms: rows in, terms out; a plan in, rows out."""

from .keys import key_of, line_of, lines_named
from .nursery import calendar_of, container_of, empty_season, people, person_of, place_of, places
from .reading import LIVING, facts_of, line_plan_of, living_parts, part_plan_of, parts_of
from .storing import SowingRows, store_line, stored_hours, write_part, write_stays, write_works
from .taken import Claims, Taken, claims_of, season_of
from .wishes import (
    Lots,
    current_protocol,
    current_protocols,
    lot_for,
    material_of,
    open_lots,
    protocols,
    protocols_of,
    recipe_of,
    wish_of,
)

__all__ = [
    "LIVING",
    "Claims",
    "Lots",
    "SowingRows",
    "Taken",
    "calendar_of",
    "claims_of",
    "container_of",
    "current_protocol",
    "current_protocols",
    "empty_season",
    "facts_of",
    "key_of",
    "line_of",
    "line_plan_of",
    "lines_named",
    "living_parts",
    "lot_for",
    "material_of",
    "open_lots",
    "part_plan_of",
    "parts_of",
    "people",
    "person_of",
    "place_of",
    "places",
    "protocols",
    "protocols_of",
    "recipe_of",
    "season_of",
    "store_line",
    "stored_hours",
    "wish_of",
    "write_part",
    "write_stays",
    "write_works",
]
