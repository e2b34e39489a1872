"""FORMAT.md defines the files: it names every rule of the referee, every field and every word a field may have."""

from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from production.planning import check, season_file
from production.planning.season_file.schema import published

PAGE = (Path(season_file.__file__).parent / "FORMAT.md").read_text()
REFEREE = Path(check.__file__).parent
CODE = set(re.findall(r"`([^`\n]+)`", PAGE)) | set(re.findall(r'"(\w+)"', PAGE))


def rules() -> set[str]:
    """The first argument of every fault that the referee's code makes."""
    found = set()
    for path in REFEREE.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and ast.unparse(node.func).split(".")[-1] in ("fault", "Fault"):
                found |= {each.value for each in node.args[:1] if isinstance(each, ast.Constant)}
    return found


def within(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        for each in value.values():
            yield from within(each)
    if isinstance(value, list):
        for each in value:
            yield from within(each)


SCHEMAS = [part for text in published().values() for part in within(json.loads(text))]
FIELDS = sorted({name for part in SCHEMAS if part.get("type") == "object" for name in part["properties"]})
WORDS = sorted({word for part in SCHEMAS for word in part.get("enum", ()) if isinstance(word, str)})


def test_the_referee_has_rules() -> None:
    assert {"stage length", "emergence", "containers", "late", "incomplete"} <= rules()


def test_the_page_defines_every_rule_of_the_referee_by_its_name_and_no_other() -> None:
    assert set(re.findall(r"\*\*`([^`]+)`\*\*", PAGE)) == rules()


def test_every_field_is_on_the_page() -> None:
    assert [field for field in FIELDS if field not in CODE] == []


def test_every_word_that_a_field_may_have_is_on_the_page() -> None:
    between = {"tuesday", "wednesday", "thursday", "friday", "saturday"}  # "monday" … "sunday"
    assert [word for word in WORDS if word not in CODE | between and f'"{word}"' not in PAGE] == []
