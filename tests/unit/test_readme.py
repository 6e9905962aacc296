"""README's Python code runs as it stands, and its files exist."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_python_code_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    blocks = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    assert blocks
    for block in blocks:
        assert len(block.strip().splitlines()) <= 12
        exec(compile(block, "README.md", "exec"), {})
    assert "buccal force on 16" in capsys.readouterr().out


def test_files_named_exist():
    named = set(re.findall(r"`(scenarios/[\w./-]+)`", README)) | set(re.findall(r"\]\(([\w./-]+)\)", README))
    assert named
    for name in named:
        assert (ROOT / name).exists(), name


def test_table_is_what_the_program_computes():
    from biomech.scenario import load
    from biomech.studies import solve

    rows = re.findall(r"^\| (none|\d+ deg) \| ([\d.]+) N \| ([+-][\d.]+) N.mm \| ([+-]\d+) um \| ([+-]\d+) um", README, re.M)
    assert len(rows) >= 4
    for torque, force, moment, crown, apex in rows:
        name = "upper-overlay" if torque == "none" else f"upper-overlay-molar-torque-{torque.split()[0]}"
        tooth = solve(load(ROOT / "scenarios" / f"{name}.toml")).tooth(16)
        assert abs(tooth["force_N"]["buccal"] - float(force)) < 0.02
        assert abs(tooth["moment_at_bracket_N_mm"]["torque"] - float(moment)) < 0.2
        assert abs(1e3 * tooth["long_axis_mm"]["crown"] - float(crown)) < 1.0
        assert abs(1e3 * tooth["long_axis_mm"]["apex"] - float(apex)) < 1.0
