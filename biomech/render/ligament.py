"""Pictures and files of a solid ligament under a load: unrolled, in section, in space, and as a VTK file.

Colours run symmetrically about zero, blue for compression, red for tension, on one scale for all pictures: give it, to
compare teeth and loads, or it follows from the 95th percentile by area. Shear, which is small beside the pressure of a
nearly incompressible ligament, has a scale of its own.
"""

from __future__ import annotations

from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.render._beside import ready_folder, write_beside
from biomech.render._shapes import to_viewer
from biomech.render.probe import ensure_drawing
from biomech.solid.blocks import mirrored
from biomech.solid.grid import Index

if TYPE_CHECKING:
    from biomech.studies.ligament import LoadedLigament

COLOURS: Literal["RdBu_r"] = "RdBu_r"
SHEAR = "viridis"
_ROUND = 3.0  # mm of circumference to a radian, where neighbours are looked for
_EVENED = 4  # times that values beside the rim are evened out
LEVELS = 21
TITLES = ("hydrostatic", "across the layer", "shear along the layer")
_SIZE, _DOTS = (12.0, 5.4), 100
_LINE = 145  # characters of a title that fit into a line


def scales_of(found: LoadedLigament) -> tuple[float, float]:
    """Return the 95th percentiles by area, kPa: of the larger of hydrostatic and normal stress, and of the shear."""
    first, second, shear = (float(found.layer.percentile(np.abs(values), 0.95)) for values in _shown(found))
    return max(first, second), shear


def write_ligament(
    found: LoadedLigament, folder: Path | str, scale: float | None = None, shear: float | None = None
) -> list[Path]:
    """Write map.png, section.png, surface.png and ligament.vtu into `folder` (made if needed); return their paths.

    `scale`, `shear`: stress, kPa, at the ends of the colours, see the module. Raises DrawError where nothing can be
    drawn and FileError for the folder.
    """
    from biomech.render.ligament_section import section_picture

    folder = ready_folder(Path(folder))
    own = scales_of(found)
    top, along = own[0] if scale is None else scale, own[1] if shear is None else shear
    paths = [write_vtk(found, folder / "ligament.vtu"), stress_map(found, folder / "map.png", top, along)]
    paths.append(section_picture(found, folder / "section.png", top, shear))
    return [*paths, surface_picture(found, folder / "surface.png", top)]


def stress_map(found: LoadedLigament, path: Path, scale: float, shear: float) -> Path:
    """Draw three stresses unrolled: height above the apex against the angle about the long axis; scales in kPa."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

    figure = Figure(figsize=_SIZE, dpi=_DOTS, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    panels = figure.subplots(1, 3, sharex=True, sharey=True)
    layer = found.layer
    angle = np.concatenate([layer.angle - 2 * np.pi, layer.angle, layer.angle + 2 * np.pi])
    height, degrees = np.tile(layer.height, 3), np.degrees(angle)
    triangles = Triangulation(_ROUND * angle, height).triangles  # neighbours by distances in mm, not in degrees
    several = found.support.tooth.shape is not None
    outer = np.tile((layer.points[:, :2] * layer.normals[:, :2]).sum(axis=1) > 0.0, 3)
    drawn: list[Any] = []
    for panel, title, values in zip(panels, TITLES, _shown(found), strict=True):
        low, top, colours = (0.0, shear, SHEAR) if values.min() >= 0.0 else (-scale, scale, COLOURS)
        every = np.tile(values, 3)
        if several:  # the sides of roots that face the long axis would lie over the others: left to surface.png
            spots = (degrees[outer], height[outer])
            drawn.append(panel.scatter(*spots, c=every[outer], s=8, cmap=colours, vmin=low, vmax=top))
        else:
            levels = np.linspace(low, top, LEVELS)
            kind = "both" if low < 0.0 else "max"
            drawn.append(panel.tricontourf(degrees, height, triangles, every, levels, cmap=colours, extend=kind))
        panel.set_title(title, fontsize=11)
        panel.set_xlim(-180.0, 180.0)
        panel.set_xticks([-180, -90, 0, 90, 180], ["distal", "lingual", "mesial", "buccal", "distal"])
        panel.tick_params(axis="x", labelsize=8)
    panels[0].set_ylabel("height above the apex, mm (crest at the top)")
    panels[0].set_ylim(0.0, float(layer.height.max()))
    add_bar(figure, drawn[0], panels[:2], (-scale, scale), "kPa, tension positive")
    add_bar(figure, drawn[2], panels[2:], (0.0, shear), "kPa")
    left_out = "; sides of roots that face the long axis are left out" if several else ""
    figure.suptitle(title_of(found, left_out), fontsize=11)
    return write_beside(path, lambda draft: figure.savefig(draft, format="png", dpi=_DOTS))


def surface_picture(found: LoadedLigament, path: Path, scale: float) -> Path:
    """Draw the hydrostatic stress on the root from its buccal, mesial, lingual and distal side."""
    ensure_drawing()
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    figure = Figure(figsize=_SIZE, dpi=_DOTS, layout="constrained", facecolor="white")
    FigureCanvasAgg(figure)
    panels = figure.subplots(1, 4)
    side = float(found.support.tooth.side_sign)
    views = {"buccal": (0.0, 1.0), "mesial": (side, 0.0), "lingual": (0.0, -1.0), "distal": (-side, 0.0)}
    for panel, (name, towards) in zip(panels, views.items(), strict=True):
        way = to_viewer(np.array([*towards, 0.0]))
        panel.imshow(_rendered(found, way, scale))
        panel.set_title(f"from the {name} side", fontsize=11)
        panel.set_axis_off()
    add_bar(figure, ScalarMappable(Normalize(-scale, scale), COLOURS), panels, (-scale, scale), "kPa, tension positive")
    figure.suptitle(title_of(found, "; hydrostatic stress"), fontsize=11)
    return write_beside(path, lambda draft: figure.savefig(draft, format="png", dpi=_DOTS))


def write_vtk(found: LoadedLigament, path: Path) -> Path:
    """Write the ligament's hexahedra: per node `displacement_mm`, per element mean stresses in kPa, tension positive.

    Coordinates are those of the tooth frame, y to the back, so that viewers do not show the mirror image; mm.
    """
    import meshio

    solid, mesh = found.solid, found.solid.mesh
    signs = solid.signs
    points, hexes = to_viewer(mesh.points * signs), mesh.hexes
    if np.prod(signs) > 0.0:  # the viewer's axes mirror those of the algebra
        hexes = mirrored(hexes)
    move = to_viewer((solid.fields @ found.motion) * signs)
    data = {"hydrostatic_kPa": _cells(found, found.layer.hydrostatic), "across_kPa": _cells(found, found.layer.normal),
            "shear_kPa": _cells(found, found.layer.shear)}  # fmt: skip
    grid = meshio.Mesh(points, [("hexahedron20", hexes)], point_data={"displacement_mm": move},
                       cell_data={key: [values] for key, values in data.items()})  # fmt: skip
    return write_beside(path, lambda draft: grid.write(draft, file_format="vtu"))


def _cells(found: LoadedLigament, values: Array) -> Array:
    """Return the mean, kPa, of the middle layer's values (P,) for every element, those over each other alike."""
    means = 1e3 * values.reshape(-1, 4).mean(axis=1)
    return np.resize(means, len(found.solid.mesh.hexes))


def _shown(found: LoadedLigament) -> tuple[Array, Array, Array]:
    """Return the three stresses (P,) of TITLES, kPa."""
    layer = found.layer
    return 1e3 * layer.hydrostatic, 1e3 * layer.normal, 1e3 * layer.shear


def title_of(found: LoadedLigament, more: str = "") -> str:
    """Return the tooth, its load and `more`; then the ligament and the caution: lines that fit the pictures."""
    tooth, law = found.support.tooth, found.support.ligament
    return "\n".join((
        *wrap(f"Tooth {tooth.number}, {tooth.name}: {found.load.words}{more}", _LINE),
        f"{law.name} ligament, young {law.young:g} MPa, poisson {law.poisson:g}, thickness {law.thickness:g} mm. "
        "For teaching, research and sanity checks; no medical device",
    ))  # fmt: skip


def add_bar(figure: Any, drawn: Any, panels: Any, ends: tuple[float, float], words: str) -> None:
    """Draw a colour bar beside `panels` for what was `drawn` there, with five ticks between its ends."""
    bar = figure.colorbar(drawn, ax=list(panels), shrink=0.9, extend="both" if ends[0] < 0.0 else "max")
    bar.set_ticks(np.linspace(*ends, 5))
    bar.ax.set_yticklabels([f"{tick:.3g}" for tick in np.linspace(*ends, 5)])
    bar.set_label(words)


def _at_corners(values: Array, quads: Index, count: int) -> Array:
    """Return values at the nodes (count,), carried from 2 x 2 Gauss points (P,) to corners and averaged there.

    What is carried stays within the four values of the element, and is evened out beside the free rim, where the
    pressure falls to nothing within an element: uneven elements would show there, not the stress.
    """
    ends = 0.5 * (1.0 + np.sqrt(3.0) * np.array([[1.0, -1.0], [-1.0, 1.0]]))  # weights of points -, + at ends -, +
    corner = np.einsum("qij,ki,kj->qk", values.reshape(-1, 2, 2), ends[[0, 1, 1, 0]], ends[[0, 0, 1, 1]])
    four = values.reshape(-1, 4)
    corner = np.clip(corner, four.min(axis=1, keepdims=True), four.max(axis=1, keepdims=True))
    shared = np.maximum(np.bincount(quads.ravel(), minlength=count), 1)

    def mean(parts: Array) -> Array:
        return np.asarray(np.bincount(quads.ravel(), weights=parts.ravel(), minlength=count) / shared)

    out, beside = mean(corner), _beside_rim(quads, count)
    for _ in range(_EVENED):
        even = mean(np.repeat(out[quads].mean(axis=1), 4))
        out[beside] = even[beside]
    return out


def _beside_rim(quads: Index, count: int) -> NDArray[np.bool_]:
    """Return which nodes (count,) belong to a quadrilateral that touches the rim."""
    sides = np.sort(np.concatenate([quads[:, [k, (k + 1) % 4]] for k in range(4)]), axis=1)
    edges, times = np.unique(sides, axis=0, return_counts=True)
    rim = np.isin(quads, edges[times == 1]).any(axis=1)
    return np.asarray(np.isin(np.arange(count), quads[rim]))


def _rendered(found: LoadedLigament, towards: Array, scale: float) -> Any:
    """Return the image of the middle surface seen against `towards`, coloured by hydrostatic stress."""
    import pyvista

    mesh, signs = found.solid.mesh, found.solid.signs
    face = [4, 5, 6, 7] if len(np.unique(mesh.around)) > mesh.around.shape[1] else [0, 1, 2, 3]
    quads = mesh.hexes[mesh.around[0]][:, face]
    nodes = to_viewer(mesh.points * signs)
    surface = pyvista.PolyData.from_regular_faces(nodes, quads)
    surface.point_data["stress"] = _at_corners(1e3 * found.layer.hydrostatic, quads, len(nodes))
    plotter = pyvista.Plotter(off_screen=True, window_size=[480, 760])
    try:
        plotter.background_color = pyvista.Color("white")
        plotter.add_mesh(surface, scalars="stress", cmap=COLOURS, clim=(-scale, scale), show_scalar_bar=False,
                         n_colors=2 * LEVELS, interpolate_before_map=True, ambient=0.6, diffuse=0.4)  # fmt: skip
        middle = nodes[quads].reshape(-1, 3)
        low, high = middle.min(axis=0), middle.max(axis=0)
        camera = plotter.camera
        camera.focal_point = 0.5 * (low + high)
        camera.position = camera.focal_point + 100.0 * towards
        camera.up, camera.parallel_projection = (0.0, 0.0, 1.0), True
        width = float((high - low)[:2].max()) * 760 / 480
        camera.parallel_scale = 0.54 * max(float(high[2] - low[2]), width)
        camera.clipping_range = (20.0, 200.0)
        return np.array(plotter.screenshot(return_img=True))
    finally:
        plotter.close()
