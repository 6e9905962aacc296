"""`biomech report`: solve and write a report."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from biomech.cli.progress import Progress
from biomech.cli.solving import changed, read
from biomech.errors import InputError


def run(file: Path, out: Path, changes: Sequence[str], *, quiet: bool) -> None:
    """Solve one scenario file and write its report; nothing is written when that fails."""
    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"--out {out}: name a file that ends in .html")
    with Progress(quiet=quiet) as progress:
        progress.say(f"reading {file}")
        scenario = changed(read(file), changes, file)
        from biomech.report.html import write_report
        from biomech.studies import solve

        progress.say(f"solving {file}")
        solution = solve(scenario, progress=progress.say)
        progress.say("writing the report")
        path = write_report([("in equilibrium", solution)], out)
    if not quiet:
        print(f"Written: {path}")
