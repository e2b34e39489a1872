"""The published schemas (JSON Schema, draft 2020-12), made from the same shapes that read the files.

`season.schema.json` and `plan.schema.json` beside this module are what it makes; a test holds them to it.
`python -m production.planning.season_file.schema` writes them again after a change.
"""

from __future__ import annotations

from pathlib import Path

from . import plan, season
from .records import Record
from .shapes import Defs, Json
from .text import readable

HERE = Path(__file__).parent
DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema_of(title: str, shape: Record) -> dict[str, Json]:
    defs: Defs = {}
    whole = shape.described(defs)
    said = {"$schema": DRAFT, "title": title, "$comment": "FORMAT.md says what each field means."}
    return {**said, **whole, "$defs": dict(sorted(defs.items()))}


def published() -> dict[Path, str]:
    """By file, the text that it must hold."""
    schemas = {
        "season": schema_of(season.FORMAT.capitalize(), season.SEASON),
        "plan": schema_of(plan.FORMAT.capitalize(), plan.PLAN),
    }
    return {HERE / f"{name}.schema.json": readable(each) for name, each in schemas.items()}


if __name__ == "__main__":
    for path, text in published().items():
        path.write_text(text)
