"""One view of the arch as a shaded image on a millimetre plane, by PyVista. Parallel projection, so that arrows and
text can be laid over it in mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.render._shapes import WireShape, moved_pose, placed, wire_shapes
from biomech.tooth.meshes import Mesh, merge

if TYPE_CHECKING:
    from biomech.studies.solve import Solution

CROWN, ROOT, OUTLINE = "#f1ead6", "#a98a63", "#30475e"
STRESS_MAP = "viridis"
_SAMPLES = 2  # rendered pixels per shown pixel, each way
_LEAST_RADIUS = 0.3  # mm, so that a thin wire stays visible


@dataclass(frozen=True)
class View:
    """A direction of looking: `title`, unit vectors `right` and `up` (3,) of the picture in viewer coordinates.

    `numbers`: the teeth it shows.
    """

    title: str
    right: Array
    up: Array
    numbers: tuple[int, ...]

    @property
    def towards(self) -> Array:
        """Unit vector (3,) from the scene to the viewer."""
        return np.asarray(np.cross(self.right, self.up))

    def flat(self, points: Array) -> Array:
        """Return points or vectors (..., 3) on the picture plane (..., 2), mm."""
        return np.asarray(points @ np.column_stack([self.right, self.up]))


@dataclass(frozen=True)
class Scene:
    """Meshes of a solution in viewer coordinates: crowns and roots moved `factor` times, and at the start; wires.

    `limits`: elastic limit by wire, MPa; `ceiling`: top of the scale of stress over elastic limit.
    """

    factor: float
    crowns: dict[int, Mesh]
    roots: dict[int, Mesh]
    first_crowns: dict[int, Mesh]
    first_roots: dict[int, Mesh]
    wires: list[WireShape]
    limits: dict[str, float]
    ceiling: float


@dataclass(frozen=True)
class Image:
    """A rendered view: `pixels` (h, w, 4); `regions` (h, w): 2 n + 1 where the crown of the n-th tooth stood at the
    start, 2 n + 2 its root, 0 elsewhere; `moved` (h, w) the same of where they are; `extent` left, right, bottom, top
    in mm.
    """

    pixels: NDArray[np.uint8]
    regions: NDArray[np.int64]
    moved: NDArray[np.int64]
    extent: tuple[float, float, float, float]

    def seen(self, *codes: int) -> Array:
        """Return the points (n, 2), mm, where the first of the regions of moved teeth is seen that is seen at all."""
        left, right, bottom, top = self.extent
        height, width = self.moved.shape
        for code in codes:
            rows, columns = np.nonzero(self.moved == code)
            if len(rows):
                x = left + (columns + 0.5) * (right - left) / width
                return np.column_stack([x, top - (rows + 0.5) * (top - bottom) / height])
        return np.zeros((0, 2))


def build_scene(solution: Solution, factor: float) -> Scene:
    """Return the meshes of a solution with displacements magnified by `factor`."""
    first: tuple[dict[int, Mesh], dict[int, Mesh]] = ({}, {})
    moved: tuple[dict[int, Mesh], dict[int, Mesh]] = ({}, {})
    for number, view in solution.teeth.items():
        tooth = view.part.tooth
        for i, mesh in enumerate((tooth.crown_surface(72), tooth.root_surface(48))):
            first[i][number] = placed(mesh, view.part.pose)
            moved[i][number] = placed(mesh, moved_pose(view, factor))
    limits = {name: view.limit for name, view in solution.wires.items()}
    top = max((view.utilisation for view in solution.wires.values()), default=0.0)
    return Scene(factor, *moved, *first, wire_shapes(solution, factor), limits, max(1.0, top))


def extent_of(scene: Scene, view: View) -> tuple[float, float, float, float]:
    """Return left, right, bottom, top (mm) of the teeth and wires a view shows."""
    meshes = (scene.crowns, scene.roots, scene.first_crowns, scene.first_roots)
    points = [view.flat(group[n].vertices) for group in meshes for n in view.numbers]
    points += [view.flat(shown_stations(wire, scene, view)[0]) for wire in scene.wires]
    low = np.min([p.min(axis=0) for p in points if len(p)], axis=0)
    high = np.max([p.max(axis=0) for p in points if len(p)], axis=0)
    return float(low[0]), float(high[0]), float(low[1]), float(high[1])


def shown_stations(wire: WireShape, scene: Scene, view: View) -> tuple[Array, Array]:
    """Return points and stress of the stations a view shows: all, or those on the side of its teeth."""
    if len(view.numbers) == len(scene.crowns):
        return wire.points, wire.stress
    side = np.sign(np.mean([scene.first_crowns[n].vertices[:, 0].mean() for n in view.numbers]))
    keep = side * wire.points[:, 0] > -0.5
    return wire.points[keep], wire.stress[keep]


def render(scene: Scene, view: View, extent: tuple[float, float, float, float], scale: float) -> Image:
    """Return the image of a view at `scale` pixels per mm. Drawing must be known to work (see probe)."""
    import pyvista

    left, right, bottom, top = extent
    size = [round(scale * (b - a)) for a, b in ((left, right), (bottom, top))]
    plotter: Any = pyvista.Plotter(off_screen=True, window_size=[_SAMPLES * n for n in size])
    try:
        aim(plotter, view, extent)
        _add_moved(plotter, scene, view)
        pixels = np.array(plotter.screenshot(return_img=True, transparent_background=True))
        regions = []
        plotter.clear_actors()
        plotter.window_size = size
        plotter.disable_anti_aliasing()  # a blend of two codes would be that of a third
        plotter.render_window.SetMultiSamples(0)
        for groups in ((scene.first_crowns, scene.first_roots), (scene.crowns, scene.roots)):
            plotter.clear_actors()
            _add_coded(plotter, [group[n] for n in view.numbers for group in groups])
            plotter.render()
            regions.append(decoded(np.array(plotter.screenshot(return_img=True))))
    finally:
        plotter.close()
    return Image(pixels, regions[0], regions[1], extent)


def aim(plotter: Any, view: View, extent: tuple[float, float, float, float]) -> None:
    """Point a camera along a view, without perspective; `extent`: left, right, bottom, top of the picture, mm."""
    left, right, bottom, top = extent
    middle = 0.5 * (left + right) * view.right + 0.5 * (bottom + top) * view.up
    camera = plotter.camera
    camera.focal_point = middle
    camera.position = middle + 300.0 * view.towards
    camera.up = view.up
    camera.parallel_projection = True
    camera.parallel_scale = 0.5 * (top - bottom)
    camera.clipping_range = (50.0, 600.0)


def _add_moved(plotter: Any, scene: Scene, view: View) -> None:
    for group, colour in ((scene.crowns, CROWN), (scene.roots, ROOT)):
        plotter.add_mesh(
            plotted(merge([group[n] for n in view.numbers])), color=colour, smooth_shading=True, ambient=0.38,
            diffuse=0.68, specular=0.12, specular_power=12, reset_camera=False, render=False,
        )  # fmt: skip
    for wire in scene.wires:
        _add_wire(plotter, scene, view, wire)


def _add_wire(plotter: Any, scene: Scene, view: View, wire: WireShape) -> None:
    import pyvista

    points, stress = shown_stations(wire, scene, view)
    if len(points) < 2:
        return
    line = pyvista.lines_from_points(points)
    line["share"] = stress / scene.limits[wire.name]
    tube = line.tube(radius=max(wire.radius, _LEAST_RADIUS), n_sides=16)
    plotter.add_mesh(
        tube, scalars="share", cmap=STRESS_MAP, clim=(0.0, scene.ceiling), show_scalar_bar=False, ambient=0.45,
        diffuse=0.6, reset_camera=False, render=False,
    )  # fmt: skip


def _add_coded(plotter: Any, meshes: list[Mesh]) -> None:
    """Draw every part in a flat colour of its own, to find where it is seen."""
    code = np.repeat(np.arange(1, len(meshes) + 1), [len(m.triangles) for m in meshes])
    surface = plotted(merge(meshes))
    surface.cell_data["code"] = np.column_stack([code, 255 - code, 0 * code]).astype(np.uint8)
    plotter.background_color = "black"
    plotter.add_mesh(surface, scalars="code", rgb=True, lighting=False, reset_camera=False, render=False)


def decoded(image: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Return the region of every pixel; red holds it, green its complement; blends with the ground count as none."""
    red, green = image[..., 0].astype(np.int64), image[..., 1].astype(np.int64)
    return np.where(np.abs(red + green - 255) <= 1, red, 0)


def plotted(mesh: Mesh) -> Any:
    """Return a mesh as PyVista draws it."""
    import pyvista

    return pyvista.PolyData.from_regular_faces(mesh.vertices, mesh.triangles.astype(int))
