"""The two guides say what is so: every variable, every command, every name on the map."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from tests.services import ROOT

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
README = (ROOT / "README.md").read_text()
READS_VARIABLES = ["config/settings.py", "config/gunicorn.py", "tests/services.py", "tests/required.py"]
HAND_ON_VARIABLES = ["config/fetch_uv.py", "config/management/commands/serve.py"]
TOP_LEVEL = """
    README.md DEVELOPERS.md manage.py pyproject.toml orders production invoicing templates tests fixtures_demo
    config run uv.lock .ci .gitignore
"""


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True)
    return listed.stdout.split()


def test_every_environment_variable_is_in_the_guide_and_no_other():
    read = re.compile(r'env(?:iron\.get|\.\w+)\(\s*"([A-Z_]+)"')
    in_code = {name for path in READS_VARIABLES for name in read.findall((ROOT / path).read_text())}
    in_guide = set(re.findall(r"^\| `([A-Z_]+)` \|", DEVELOPERS, re.MULTILINE))
    assert in_guide == in_code


def test_no_other_file_reads_the_environment():
    """So that the guide's table, checked above, is the whole of it."""
    reads = re.compile(r"environ\.get\(|environ\[|getenv\(")
    ours = [path for path in tracked() if path.endswith(".py") and not path.startswith("tests/house/")]
    reading = {path for path in ours if reads.search((ROOT / path).read_text())}
    assert reading <= {*READS_VARIABLES, *HAND_ON_VARIABLES}


@pytest.mark.parametrize("guide", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_command_in_the_guides_is_one_that_run_knows(guide):
    known = set(re.findall(r"^(\w+)\) ", (ROOT / "run").read_text(), re.MULTILINE))
    assert set(re.findall(r"\./run (\w+)", guide)) <= known


def test_every_dependency_says_why_it_is_there():
    text = (ROOT / "pyproject.toml").read_text()
    table = re.search(r"^dependencies = \[\n(.*?)^\]", text, re.MULTILINE | re.DOTALL)
    lines = [line for line in table.group(1).splitlines() if line.strip().startswith('"')]
    assert len(lines) == len(tomllib.loads(text)["project"]["dependencies"])
    assert [line for line in lines if not re.search(r",\s*# \w", line)] == []


def test_the_top_level_holds_only_what_must_be_there():
    assert {path.split("/")[0] for path in tracked()} <= set(TOP_LEVEL.split())


def test_templates_are_tidy():
    """`./run tidy` mends them."""
    templates = [path for path in tracked() if path.endswith(".html")]
    djade = Path(sys.executable).with_name("djade")
    result = subprocess.run(
        [djade, "--check", "--target-version", "5.2", *templates], cwd=ROOT, capture_output=True, text=True
    )
    assert result.returncode == 0, result.stderr


def test_the_map_shows_every_folder_of_code_and_no_other():
    block = re.search(r"## The map.*?```\n(.*?)```", DEVELOPERS, re.DOTALL).group(1)
    on_map, above = set(), {}
    for line in block.splitlines():
        depth = (len(line) - len(line.lstrip())) // 2
        for name in re.findall(r"(?:^|(?<=  ))\.?[\w/]+/(?=\s|$)", line.split("   ")[0] if depth == 0 else line):
            above[depth] = (above[depth - 1] if depth else "") + name
            on_map.add(above[depth].rstrip("/"))
    missing = {folder for folder in on_map if not (ROOT / folder).is_dir()}
    code = {path.rsplit("/", 1)[0] for path in tracked() if path.endswith(".py") and "/" in path}
    ours = {folder for folder in code if not re.search(r"^tests|migrations|management$", folder)}
    assert (missing, ours - on_map) == (set(), set())


def test_every_module_opens_by_saying_what_belongs_there():
    modules = [path for path in tracked() if path.endswith(".py") and not re.search(r"migrations/", path)]
    plain = ("apps.py", "__init__.py", "manage.py", "/conftest.py")
    texts = {path: (ROOT / path).read_text() for path in modules if not path.endswith(plain)}
    assert [path for path, text in texts.items() if text and not text.startswith('"""')] == []
