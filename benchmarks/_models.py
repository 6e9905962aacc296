"""The benchmark models are those of the validation tests; this makes their builders importable."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "validation"))

import beams  # noqa: F401
