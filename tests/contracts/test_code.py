"""The code itself: lint, types, and the order of the layers."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CHECKS = {
    "ruff": [sys.executable, "-m", "ruff", "check", "."],
    "mypy": [sys.executable, "-m", "mypy"],
    "layers": [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
}


@pytest.mark.parametrize("check", CHECKS)
def test_code(check):
    run = subprocess.run(CHECKS[check], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout[-4000:] + run.stderr[-2000:]
