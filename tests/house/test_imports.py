"""The import rules of pyproject.toml hold, and would be broken by breaking them."""

import subprocess
import sys
from pathlib import Path

from tests.services import ROOT

LINT = Path(sys.executable).with_name("lint-imports")


def test_import_rules_hold():
    result = subprocess.run([LINT, "--no-cache"], cwd=ROOT, capture_output=True, text=True)
    assert result.returncode == 0, result.stdout
