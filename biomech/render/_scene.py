"""Surfaces on a window that nobody sees, moved and shot again and again. VTK without a layer above it, since films need
little of it, a few milliseconds a picture, and a quick start in every process that draws.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.render._sheet import Frame
from biomech.render._views import View
from biomech.tooth.meshes import Mesh

FAR = 300.0
"""Distance, mm, of the camera from the picture plane; without perspective it only has to be in front of everything."""
_NEAREST, _FARTHEST = 50.0, 600.0  # mm from the camera, what is drawn


class Scene:
    """A window of `size` (width, height) pixels on `extent` (left, right, bottom, top, mm) of a view.

    Drawing must be known to work (see probe). Close it when done.
    """

    def __init__(self, view: View, extent: tuple[float, float, float, float], size: tuple[int, int]) -> None:
        import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (how windows draw)
        from vtkmodules.vtkCommonCore import vtkUnsignedCharArray
        from vtkmodules.vtkRenderingCore import vtkLightKit, vtkRenderer, vtkRenderWindow

        self._size = size
        self._window = vtkRenderWindow()
        self._window.SetOffScreenRendering(1)
        self._window.SetMultiSamples(0)  # the sheet is reduced from twice its resolution anyway
        self._window.SetSize(*size)
        self._scene = vtkRenderer()
        self._scene.SetAutomaticLightCreation(0)
        self._scene.GetCullers().RemoveAllItems()  # all there is is seen
        vtkLightKit().AddLightsToRenderer(self._scene)
        self._window.AddRenderer(self._scene)
        self._aim(view, extent)
        self._pixels = vtkUnsignedCharArray()

    def _aim(self, view: View, extent: tuple[float, float, float, float]) -> None:
        left, right, bottom, top = extent
        middle = 0.5 * (left + right) * view.right + 0.5 * (bottom + top) * view.up
        camera = self._scene.GetActiveCamera()
        camera.SetFocalPoint(*middle)
        camera.SetPosition(*(middle + FAR * view.towards))
        camera.SetViewUp(*view.up)
        camera.ParallelProjectionOn()
        camera.SetParallelScale(0.5 * (top - bottom))
        camera.SetClippingRange(_NEAREST, _FARTHEST)

    def close(self) -> None:
        """Give the window back."""
        self._window.Finalize()

    def shot(self, ground: str = "#ffffff") -> Frame:
        """Return the picture (height, width, 3)."""
        width, height = self._size
        self._scene.SetBackground(*_shares(ground))
        self._window.Render()
        self._window.GetPixelData(0, 0, width - 1, height - 1, 0, self._pixels, 0)  # 0: the buffer just drawn
        return np.array(_arrays().vtk_to_numpy(self._pixels).reshape(height, width, 3)[::-1])

    def clear(self) -> None:
        """Take all surfaces away."""
        self._scene.RemoveAllViewProps()

    def coded(self, mesh: Mesh, colours: NDArray[np.uint8]) -> None:
        """Add a mesh whose triangles have flat colours (n, 3) of their own."""
        data, actor = self._added(mesh)
        data.GetCellData().SetScalars(_stored(colours))
        actor.GetMapper().SetScalarModeToUseCellData()
        actor.GetProperty().LightingOff()

    def shaded(
        self, mesh: Mesh, colour: str, *, ambient: float, diffuse: float, specular: float = 0.0, sealed: bool = True,
        bent: bool = False, normals: Array | None = None,
    ) -> Surface:  # fmt: skip
        """Add a smooth mesh; its inside is drawn unless it is `sealed`, so that nothing of it can be seen.

        `bent` if it will be; `normals` (V, 3) of its vertices, found from its triangles when not given.
        """
        data, actor = self._added(mesh)
        if not bent:
            actor.GetMapper().StaticOn()
        data.GetPointData().SetNormals(_normals(data) if normals is None else _stored(normals.astype(np.float32)))
        actor.GetMapper().ScalarVisibilityOff()
        look = actor.GetProperty()
        look.SetInterpolationToPhong()
        look.SetColor(*_shares(colour))
        look.SetAmbient(ambient)
        look.SetDiffuse(diffuse)
        look.SetSpecular(specular)
        look.SetSpecularPower(12.0)
        look.SetBackfaceCulling(sealed)
        return Surface(data, actor)

    def _added(self, mesh: Mesh) -> tuple[Any, Any]:
        from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

        data, mapper, actor = _surface(mesh), vtkPolyDataMapper(), vtkActor()
        mapper.SetInputData(data)
        actor.SetMapper(mapper)
        self._scene.AddActor(actor)
        return data, actor


class Surface:
    """A surface of a scene, to be moved, changed and hidden."""

    def __init__(self, data: Any, actor: Any) -> None:
        self._data, self._actor = data, actor

    def show(self, visible: bool) -> None:
        """Show or hide it from now on."""
        self._actor.SetVisibility(visible)

    def move(self, matrix: Array) -> None:
        """Draw it from now on moved by a matrix (4, 4) from where its vertices are."""
        from vtkmodules.vtkCommonMath import vtkMatrix4x4

        moved = vtkMatrix4x4()
        moved.DeepCopy(matrix.ravel().tolist())
        self._actor.SetUserMatrix(moved)

    def bend(self, vertices: Array, normals: Array) -> None:
        """Give one that was added to be bent other vertices (V, 3) and normals (V, 3); the triangles stay."""
        self._data.GetPoints().SetData(_stored(vertices.astype(np.float32)))
        self._data.GetPointData().SetNormals(_stored(normals.astype(np.float32)))
        self._data.Modified()


def _shares(colour: str) -> tuple[float, float, float]:
    red, green, blue = bytes.fromhex(colour.removeprefix("#"))
    return red / 255.0, green / 255.0, blue / 255.0


def _stored(values: NDArray[Any]) -> Any:
    """Return an array of VTK's with a copy of values (n,) or (n, 3)."""
    return _arrays().numpy_to_vtk(np.ascontiguousarray(values), deep=True)


def _arrays() -> Any:
    """Return VTK's bridge to numpy."""
    from vtkmodules.util import numpy_support

    return numpy_support


def _surface(mesh: Mesh) -> Any:
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    data, points, cells = vtkPolyData(), vtkPoints(), vtkCellArray()
    points.SetData(_stored(mesh.vertices.astype(np.float32)))
    begin = np.arange(0, 3 * len(mesh.triangles) + 1, 3, dtype=np.int64)
    corners = np.ascontiguousarray(mesh.triangles, dtype=np.int64).ravel()
    cells.SetData(*(_arrays().numpy_to_vtkIdTypeArray(part, deep=True) for part in (begin, corners)))
    data.SetPoints(points)
    data.SetPolys(cells)
    return data


def _normals(data: Any) -> Any:
    from vtkmodules.vtkFiltersCore import vtkPolyDataNormals

    found = vtkPolyDataNormals()
    found.SetInputData(data)
    found.SplittingOff()
    found.ConsistencyOff()  # triangles face outwards as they are
    found.Update()
    return found.GetOutput().GetPointData().GetNormals()
