"""What an earlier run of a command left in its folder, and the run now has not written: told apart and removed.

A file counts as left by a command only if it has a name that the command gives and carries the command's own mark: the
text in a picture that names it as source, the heading of its table, the data that its mesh carries. Everything else in
the folder is somebody's.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path

from biomech.errors import FileError

SOLVED, COMPARED, COURSE, BENCH = "biomech solve", "biomech compare", "biomech course", "biomech bend"
"""Sources that pictures name."""
_TOOTH = "(-[1-4][1-7])?"
_PLOTS = {
    SOLVED: r"(picture|section-[1-4][1-7])\.png",
    COMPARED: rf"(widths|movement{_TOOTH}|forces{_TOOTH}|tip{_TOOTH}|torque{_TOOTH})\.png",
    COURSE: r"(course|section-[1-4][1-7]-day-[\d.]+)\.png",
    BENCH: r"curves\.png",
}
_TABLES = {COMPARED: {"curves.csv": b"variant,day,after_visit,"}}
"""By command: tables that not every run writes, and what their heading begins with."""
_MESHES = {
    SOLVED: {
        "teeth.vtu": (b"displacement_mm", b"ligament_pressure_kPa", b"tooth", b"part"),
        "wires.vtu": (b"displacement_mm", b"stress_MPa", b"stress_over_limit", b"wire"),
    }
}
"""By command: VTK files, and the data that they carry, all of them and no other."""
_WRITER = b"<!--This file was created by meshio"
_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def clear_leftovers(folder: Path, source: str, written: Iterable[Path]) -> list[Path]:
    """Remove what earlier runs of the command `source` left in `folder`, except the files `written`.

    To be called when all new files are in place. Returns the paths of what is gone; raises FileError naming a file that
    cannot be removed.
    """
    kept = {path.name for path in written}
    gone = [path for path in _left(folder, source) if path.name not in kept]
    for path in gone:
        try:
            path.unlink()
        except OSError as error:
            reason = error.strerror or error
            raise FileError(f"{path}: is left from an earlier run and cannot be removed: {reason}") from None
    return gone


def _left(folder: Path, source: str) -> Iterator[Path]:
    try:
        found = sorted(folder.iterdir())
    except OSError as error:
        raise FileError(f"{folder}: cannot be read: {error.strerror or error}") from None
    for path in found:
        if path.is_symlink() or not path.is_file():
            continue
        data = _MESHES.get(source, {}).get(path.name)
        mesh = data is not None and data_of(path) == set(data)
        plot = re.fullmatch(_PLOTS[source], path.name) and source_of(path) == source
        heading = _TABLES.get(source, {}).get(path.name)
        if plot or mesh or (heading is not None and _begin(path, len(heading)) == heading):
            yield path


def source_of(path: Path) -> str | None:
    """Return the source that the text of a PNG file names; None where it names none, and for any other file."""
    data, at = _begin(path, 1 << 14), len(_SIGNATURE)  # the text stands before the picture
    if not data.startswith(_SIGNATURE):
        return None
    while at + 8 <= len(data):
        size, kind = int.from_bytes(data[at : at + 4]), data[at + 4 : at + 8]
        keyword, _, text = data[at + 8 : at + 8 + size].partition(b"\0")
        if (kind, keyword) == (b"tEXt", b"Source"):
            return text.decode("latin-1")
        at += size + 12  # length, kind and checksum around the data
    return None


def data_of(path: Path) -> set[bytes]:
    """Return the names of the point data of a VTK file as the program writes it; none for any other file."""
    try:
        text = path.read_bytes()
    except OSError:
        return set()
    part = re.search(rb"<PointData>(.*)</PointData>", text, re.DOTALL) if _WRITER in text[:1024] else None
    return set() if part is None else set(re.findall(rb'<DataArray[^>]*\bName="([^"]*)"', part[1]))


def _begin(path: Path, count: int) -> bytes:
    """Return the first bytes of a file, none where it cannot be read."""
    try:
        with path.open("rb") as file:
            return file.read(count)
    except OSError:
        return b""
