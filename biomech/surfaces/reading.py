"""Triangles from surface files: STL, PLY, OBJ, VTK (legacy and XML polygon data) and MSH."""

from __future__ import annotations

import contextlib
import io
import logging
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from biomech.errors import FileError, InputError, UnreadableError, nearest
from biomech.mechanics.poses import Array
from biomech.tooth.meshes import Mesh

FORMATS = (".stl", ".ply", ".obj", ".vtk", ".vtp", ".msh")
"""Endings of the files that can be read."""
_POLYGONS = (5, 7, 9)  # VTK's numbers for triangle, polygon, quadrilateral
LARGEST = 100_000_000
"""Size in bytes above which a file is refused: a tooth needs less than a hundredth of it."""


def read_mesh(path: Path | str) -> Mesh:
    """Return the triangles of a surface file as they stand, in the file's coordinates; polygons are split.

    Raises FileError when the file is missing or cannot be read, InputError when it holds no usable triangles:
    unknown ending, empty, damaged, vertices that are no finite numbers.
    """
    path = Path(path)
    _check_file(path)
    if path.suffix.lower() not in FORMATS:
        known = ", ".join(FORMATS)
        hint = nearest(path.suffix.lower(), FORMATS) if path.suffix else ""
        raise InputError(f"{path}: '{path.suffix}' is no surface format known here; allowed: {known}.{hint}")
    try:
        points, faces = _read(path)
    except FileError:
        raise
    except InputError as error:
        raise InputError(f"{path}: {error}") from None
    except MemoryError:
        raise InputError(f"{path}: is damaged: it claims more triangles than memory can hold") from None
    except Exception as error:  # the readers raise errors of every kind on damaged files
        said = " ".join(str(error).split())[:120] or type(error).__name__
        raise InputError(f"{path}: is no valid {path.suffix.lower()[1:].upper()} file ({said})") from None
    return _usable(path, points, faces)


def _check_file(path: Path) -> None:
    try:
        if path.is_dir():
            raise UnreadableError(f"{path}: is a folder; name a surface file in it")
        if not path.is_file():
            found = sorted(p.name for p in path.parent.iterdir()) if path.parent.is_dir() else []
            raise UnreadableError(f"{path}: there is no such file.{nearest(path.name, found)}")
        size = path.stat().st_size
    except FileError:
        raise
    except (OSError, ValueError) as error:
        raise UnreadableError(f"{path}: cannot be read: {getattr(error, 'strerror', None) or error}") from None
    if size == 0:
        raise InputError(f"{path}: the file is empty")
    if size > LARGEST:
        raise InputError(f"{path}: has {size / 1e6:.0f} MB; allowed: up to {LARGEST // 1_000_000} MB")


def _read(path: Path) -> tuple[Array, list[Any]]:
    """Return points (V, 3) and a list of polygon blocks (n, k) of vertex indices."""
    kind = path.suffix.lower()
    if kind == ".stl":
        return _stl(path)
    if kind in (".vtk", ".vtp"):
        return _vtk(path)
    if kind == ".msh":
        from biomech.surfaces.msh import read_msh

        return read_msh(path.read_bytes())
    if kind == ".ply":
        from biomech.surfaces.ply import read_ply

        return read_ply(path.read_bytes())
    import meshio

    with _quiet():
        found = meshio.obj.read(str(path))
    flat = [np.asarray(block.data) for block in found.cells if block.type in ("triangle", "quad", "polygon")]
    if not flat and found.cells:
        kinds = ", ".join(sorted({block.type for block in found.cells}))
        raise InputError(f"holds no triangles but cells of other kinds ({kinds}); save its surface as triangles")
    return np.asarray(found.points), flat


def _stl(path: Path) -> tuple[Array, list[Any]]:
    """Read binary STL as its plain layout (80 bytes, count, 50 bytes a triangle), text STL through meshio."""
    data = path.read_bytes()
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    if count >= 0 and len(data) == 84 + 50 * count:
        corners = np.frombuffer(data, record, count, 84)["corners"].astype(np.float64)
        return corners.reshape(-1, 3), [np.arange(3 * count).reshape(-1, 3)]
    if data[:5].lower() != b"solid" or b"facet" not in data[:4096]:
        whole = (len(data) - 84) // 50
        raise InputError(
            f"is cut short or damaged: its header counts {count} triangles, there is room for {max(whole, 0)}"
        )
    import meshio

    with _quiet():
        found = meshio.stl.read(str(path))
    return np.asarray(found.points), [np.asarray(block.data) for block in found.cells]


def _vtk(path: Path) -> tuple[Array, list[Any]]:
    import pyvista

    with _quiet(), pyvista.vtk_verbosity("off"):
        found = pyvista.read(str(path))
    if isinstance(found, pyvista.PolyData):
        if found.n_strips:
            raise InputError("holds triangle strips; save it with single triangles")
        return np.asarray(found.points, dtype=np.float64), _polygons(found.GetPolys())
    if isinstance(found, pyvista.UnstructuredGrid):
        if not np.isin(found.celltypes, _POLYGONS).all():
            raise InputError("holds cells that are no polygons; save the tooth's surface as triangles")
        return np.asarray(found.points, dtype=np.float64), _polygons(found.GetCells())
    raise InputError(f"holds no surface but {type(found).__name__}")


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep the readers from writing past the error that is raised: to the log, to the standard streams."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    nowhere = io.StringIO()
    try:
        with contextlib.redirect_stdout(nowhere), contextlib.redirect_stderr(nowhere), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        logging.disable(before)


def _polygons(cells: Any) -> list[Any]:
    """Return blocks of equal polygons of a VTK cell array; its lists are checked before anything follows them."""
    from vtkmodules.util.numpy_support import vtk_to_numpy

    if cells is None:
        raise InputError("is cut short or damaged: it holds points but no cells")
    start, corners = (
        np.asarray(vtk_to_numpy(a), dtype=np.int64)  # type: ignore[no-untyped-call]
        for a in (cells.GetOffsetsArray(), cells.GetConnectivityArray())
    )
    size = np.diff(start)
    if len(start) < 2:
        return []
    if start[0] != 0 or start[-1] != len(corners) or size.min() < 3:
        raise InputError("is damaged, or holds cells that are no polygons")
    return [corners[start[:-1][size == k][:, None] + np.arange(k)] for k in np.unique(size)]


def _usable(path: Path, points: Array, blocks: list[Any]) -> Mesh:
    """Return the mesh when every triangle has finite corners; else raise InputError."""
    fans = [
        np.stack([block[:, 0], block[:, i], block[:, i + 1]], axis=1)
        for block in blocks
        for i in range(1, block.shape[1] - 1)
    ]
    triangles = np.concatenate(fans).astype(np.int64) if fans else np.zeros((0, 3), dtype=np.int64)
    if points.ndim != 2 or points.shape[1] != 3 or not len(triangles):
        raise InputError(f"{path}: holds no triangles in space; a closed surface of triangles is needed")
    if triangles.min() < 0 or triangles.max() >= len(points):
        raise InputError(f"{path}: is damaged: a triangle names vertex {triangles.max()} of {len(points)}")
    points = points.astype(np.float64)
    wrong = np.flatnonzero(~(np.abs(points) < 1e12).all(axis=1) & np.isin(np.arange(len(points)), triangles))
    if len(wrong):
        at = ", ".join(f"{x:g}" for x in points[wrong[0]])
        raise InputError(
            f"{path}: {len(wrong)} of its vertices are no finite numbers, the first is vertex {wrong[0]} at ({at})"
        )
    return Mesh(points, triangles)
