"""Write a solution as result.json, teeth.csv and wires.csv; and results of any kind, the caution beside them."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from biomech.errors import FileError
from biomech.studies.record import record
from biomech.studies.solve import CAUTION

CAUTION_FILE = "caution.txt"
"""Carries the caution for the CSV files beside it: a line in them would be data to spreadsheets and data frames."""

if TYPE_CHECKING:
    from biomech.studies.solve import Solution


def write(solution: Solution, folder: Path | str) -> list[Path]:
    """Write result.json, teeth.csv, wires.csv and the caution into `folder` (made if needed) and return their paths.

    Everything is computed before anything is written, and the files take their names only when all are complete.
    Raises FileError naming path and reason when that fails; no part of a file is left then.
    """
    data = record(solution)
    texts = {
        "result.json": json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        "teeth.csv": csv_text(teeth_rows(data)),
        "wires.csv": csv_text(wire_rows(data)),
    }
    return write_results(Path(folder), texts)


def write_results(folder: Path, texts: Mapping[str, str]) -> list[Path]:
    """Write texts by file name, and the caution as CAUTION_FILE, into `folder`, all or none; as `write`."""
    words = f"For every file in this folder that biomech has written:\n\n{CAUTION}\n"
    return write_texts(folder, {**texts, CAUTION_FILE: words})


def write_texts(folder: Path, texts: Mapping[str, str]) -> list[Path]:
    """Write texts by file name into `folder`, all or none; FileError as in `write`."""
    made = _make(folder)
    drafts = {name: folder / f".{name}.{os.getpid()}.part" for name in texts}
    at = folder
    try:
        for name in texts:
            at = folder / name
            if at.is_dir():
                raise IsADirectoryError(None, "is a folder")
        for name, text in texts.items():
            at = folder / name
            drafts[name].write_text(text, encoding="utf-8", newline="")
        for name, draft in drafts.items():
            at = folder / name
            os.replace(draft, at)
    except OSError as error:
        raise FileError(f"{at}: cannot be written: {error.strerror or error}") from None
    finally:
        for draft in drafts.values():
            _remove(draft)
        for path in made:
            _remove(path)
    return [folder / name for name in texts]


def _make(folder: Path) -> list[Path]:
    """Make `folder`; return those folders that had to be made, the innermost first."""
    made: list[Path] = []
    try:
        made = [path for path in (folder, *folder.parents) if not path.exists()]
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        for path in made:
            _remove(path)
        taken = next((path for path in (folder, *folder.parents) if path.exists()), folder)
        if taken.exists() and not taken.is_dir():
            raise FileError(f"{taken}: is a file; name a folder for the results") from None
        raise FileError(f"{folder}: no such folder can be made: {error.strerror or error}") from None
    return made


def _remove(path: Path) -> None:
    """Remove a file, or a folder if it is empty; leave alone what cannot be removed."""
    with contextlib.suppress(OSError):
        path.rmdir() if path.is_dir() else path.unlink()


def teeth_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return one row a tooth of a record; columns are the paths below the tooth, such as "force_N.mesial"."""
    return [{"tooth": number, **flat_row(values)} for number, values in data["teeth"].items()]


def wire_rows(data: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return one row for every hold of every wire of a record, with the wire's own values in each."""
    rows = []
    for name, wire in data["wires"].items():
        own = {"wire": name, **{k: v for k, v in wire.items() if k != "holds"}}
        rows += [{**own, **flat_row(hold)} for hold in wire["holds"]] or [own]
    return rows


def flat_row(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table's values by dotted key."""
    out: dict[str, Any] = {}
    for key, value in values.items():
        if isinstance(value, Mapping):
            out |= {f"{key}.{inner}": v for inner, v in flat_row(value).items()}
        else:
            out[key] = value
    return out


def csv_text(rows: list[dict[str, Any]]) -> str:
    """Return rows as CSV (RFC 4180); an empty cell where a quantity does not exist."""
    columns = list(dict.fromkeys(key for row in rows for key in row))
    # a table that is None at one tooth and filled at another leaves a column of its own without a value
    filled = [c for c in columns if not any(other.startswith(f"{c}.") for other in columns)]
    buffer = io.StringIO()
    writer = csv.DictWriter(buffer, filled, restval="", extrasaction="ignore", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(rows)
    return buffer.getvalue()
