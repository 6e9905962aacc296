"""One tooth at rest: its shape with bone crest, long axis, bracket and centre of resistance. PyVista and matplotlib."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from biomech.mechanics.poses import Array
from biomech.render._beside import write_beside
from biomech.render._legend import DPI, HEIGHT, INK, PALE, WIDTH, bare_axes
from biomech.render._shapes import to_viewer
from biomech.render._views import CROWN, ROOT
from biomech.render.probe import ensure_drawing
from biomech.tooth.meshes import Mesh

if TYPE_CHECKING:
    from biomech.studies.support import ToothSupport
    from biomech.tooth.model import Tooth

CREST, AXIS, BRACKET = "#009e73", "#5b6875", "#0072b2"
_BOXES = ((20, 80, 560, 900), (560, 80, 1100, 900))  # px from the top left
_WORDS = 1130  # px, left edge of the text
_SAMPLES = 2  # rendered pixels per shown pixel, each way
UP = np.array([0.0, 0.0, 1.0])
_MARGIN = 1.5  # mm around the tooth


def tooth_picture(support: ToothSupport, path: Path | str) -> Path:
    """Draw one tooth from its buccal and mesial side as a PNG of 1600 x 1000 pixels and return its path.

    True to scale, the same in both views. Raises DrawError where nothing can be drawn, FileError for the path.
    """
    ensure_drawing()
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH / DPI, HEIGHT / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    tooth = support.tooth
    buccal = np.array([0.0, -1.0, 0.0])
    mesial = np.array([float(tooth.side_sign), 0.0, 0.0])
    box = _BOXES[0]
    meshes = [_viewer(m) for m in (tooth.crown_surface(96), tooth.root_surface(96))]
    places = np.concatenate([m.vertices for m in meshes])
    low, high = places.min(axis=0) - _MARGIN, places.max(axis=0) + _MARGIN
    room = max((high[2] - low[2]) / (box[3] - box[1]), float((high - low)[:2].max()) / (box[2] - box[0]))
    views = ((buccal, ("mesial", "distal")), (mesial, ("buccal", "lingual")))
    middle, crest = 0.5 * (low + high), _crest_lines(tooth)
    for place, (towards, sides) in zip(_BOXES, views, strict=True):
        plane = np.column_stack([np.cross(UP, towards), UP])
        size = (place[2] - place[0], place[3] - place[1])
        half = 0.5 * room * np.array(size)
        axes = bare_axes(figure, place)
        axes.set_xlim(-half[0], half[0])
        axes.set_ylim(-half[1], half[1])
        image = _rendered(meshes, crest, middle, towards, half, size)
        axes.imshow(image, extent=(-half[0], half[0], -half[1], half[1]), aspect="auto", zorder=1)
        _overlay(axes, support, middle, plane)
        _sides(axes, half, plane[:, 0], tooth, sides)
    _bar(figure, 1.0 / room)
    _words(figure, support)
    return write_beside(Path(path), lambda draft: figure.savefig(draft, format="png", dpi=DPI))


def _viewer(mesh: Mesh) -> Mesh:
    """Return a mesh of the tooth frame true to space, its triangles facing outwards."""
    return Mesh(to_viewer(mesh.vertices), mesh.triangles[:, ::-1].copy())


def _crest_lines(tooth: Tooth) -> list[Array]:
    """Return the line(s) of the bone crest on the root as segments (n, 2, 3) in viewer coordinates."""
    if tooth.shape is not None:
        rim = np.zeros(len(tooth.shape.ligament.vertices), dtype=bool)
        rim[tooth.shape.ligament.rim] = True
        mesh = Mesh(tooth.shape.ligament.vertices, tooth.shape.ligament.faces)
        edges = np.concatenate([mesh.triangles[:, [k, (k + 1) % 3]] for k in range(3)])
        key, count = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
        key = key[count == 1]
        return [to_viewer(mesh.vertices[key[rim[key].all(axis=1)]])]
    root, level = tooth.root_surface(96), tooth.jaw_sign * tooth.bone_level
    height = root.vertices[:, 2] - level
    return [to_viewer(_level_segments(root, np.where(height == 0.0, 1e-9, height)))]


def _level_segments(mesh: Mesh, height: Array) -> Array:
    """Return the segments (n, 2, 3) in which the triangles cross height zero."""
    ends = []
    for k in range(3):
        i, j = mesh.triangles[:, k], mesh.triangles[:, (k + 1) % 3]
        crossed = height[i] * height[j] < 0.0
        share = height[i] / np.where(crossed, height[i] - height[j], 1.0)
        point = mesh.vertices[i] + share[:, None] * (mesh.vertices[j] - mesh.vertices[i])
        ends.append(np.where(crossed[:, None], point, np.nan))
    every = np.stack(ends, axis=1)
    rows = np.isfinite(every[:, :, 0]).sum(axis=1) == 2
    found = every[rows]
    return np.asarray(found[np.isfinite(found[:, :, 0])].reshape(-1, 2, 3))


def _rendered(
    meshes: list[Mesh], crest: list[Array], middle: Array, towards: Array, half: Array, size: tuple[int, int]
) -> NDArray[np.uint8]:
    """Return the shaded image (h, w, 4) of crown, root and crest, seen against `towards`, `half` mm to each side."""
    import pyvista

    plotter = pyvista.Plotter(off_screen=True, window_size=[_SAMPLES * n for n in size])
    try:
        for mesh, colour in zip(meshes, (CROWN, ROOT), strict=True):
            surface = pyvista.PolyData.from_regular_faces(mesh.vertices, mesh.triangles.astype(int))
            plotter.add_mesh(surface, color=colour, smooth_shading=True, ambient=0.35, diffuse=0.7, specular=0.1)
        for segments in crest:
            if len(segments):
                lines = pyvista.line_segments_from_points(segments.reshape(-1, 3))
                plotter.add_mesh(lines.tube(radius=0.12), color=CREST, ambient=0.5, diffuse=0.5)
        camera = plotter.camera
        camera.focal_point, camera.position, camera.up = middle, middle + 200.0 * towards, (0.0, 0.0, 1.0)
        camera.parallel_projection, camera.parallel_scale = True, float(half[1])
        camera.clipping_range = (50.0, 400.0)
        return np.array(plotter.screenshot(return_img=True, transparent_background=True))
    finally:
        plotter.close()


def _overlay(axes: Any, support: ToothSupport, middle: Array, plane: Array) -> None:
    """Draw long axis, bracket, apices and centre of resistance over an image of `plane` (3, 2) about `middle`."""
    tooth = support.tooth

    def flat(points: Array) -> Array:
        return np.asarray((to_viewer(points) - middle) @ plane)

    ends = np.array([[0.0, 0.0, z] for z in (tooth.landmarks["edge"][2], tooth.landmarks["apex"][2])])
    ends += 0.06 * (ends - ends[::-1])
    axes.plot(*flat(ends).T, color=AXIS, linewidth=1.6, linestyle=(0, (7, 3, 1.5, 3)), zorder=3)
    axes.plot(*flat(tooth.landmarks["bracket"]), marker="s", markersize=15, color=BRACKET, markeredgecolor="white",
              markeredgewidth=1.5, zorder=4)  # fmt: skip
    apices = [p for name, p in tooth.landmarks.items() if name.startswith("apex ")] or [tooth.landmarks["apex"]]
    for apex in apices:
        axes.plot(*flat(apex), marker="^" if tooth.jaw_sign > 0 else "v", markersize=8, color=INK, zorder=4)
    axes.plot(*flat(support.centre.point), marker="o", markersize=13, color="white", markeredgecolor=INK,
              markeredgewidth=2.4, zorder=5)  # fmt: skip


def _sides(axes: Any, half: Array, right: Array, tooth: Tooth, names: tuple[str, str]) -> None:
    """Name what lies left and right: `names` for the first direction and its opposite."""
    first = to_viewer(tooth.direction(names[0]))
    left_name, right_name = names[::-1] if float(first @ right) > 0.0 else names
    for x, word, align in ((-0.97, left_name, "left"), (0.97, right_name, "right")):
        axes.text(x * half[0], -0.985 * half[1], word, ha=align, va="bottom", fontsize=14, color=PALE, zorder=6)


def _bar(figure: Any, per_mm: float) -> None:
    axes = bare_axes(figure, (20, 905, 560, 945))
    axes.set_xlim(0, 540)
    axes.set_ylim(0, 40)
    axes.plot((10, 10, 10, 10 + 5 * per_mm, 10 + 5 * per_mm, 10 + 5 * per_mm), (28, 12, 20, 20, 12, 28), color=INK)
    axes.text(20 + 5 * per_mm, 20, "5 mm", va="center", fontsize=14, color=INK)


def _words(figure: Any, support: ToothSupport) -> None:
    from biomech.studies.solve import CAUTION

    tooth = support.tooth
    title = f"Tooth {tooth.number}, {tooth.name}"
    if tooth.shape is not None:
        title += f": {tooth.shape.source}"
    figure.text(20 / WIDTH, 0.984, title, va="top", weight="bold", color=INK, fontsize=min(21.0, 1900.0 / len(title)))
    y = 140.0
    for head, value in _lines(support):
        figure.text(_WORDS / WIDTH, 1 - y / HEIGHT, head, va="top", fontsize=13.5, color=PALE)
        figure.text(_WORDS / WIDTH, 1 - (y + 23) / HEIGHT, value, va="top", fontsize=15, color=INK)
        y += 66
    legend = (
        (CREST, "_", "bone crest"), (AXIS, "_", "long axis"), (BRACKET, "s", "bracket"),
        ("white", "o", "centre of resistance"), (INK, "^" if tooth.jaw_sign > 0 else "v", "apex"),
    )  # fmt: skip
    axes = bare_axes(figure, (_WORDS, int(y) + 10, WIDTH - 20, int(y) + 190))
    axes.set_xlim(0, 450)
    axes.set_ylim(180, 0)
    for row, (colour, marker, name) in enumerate(legend):
        axes.plot([14], [16 + 34 * row], marker=marker, markersize=13, color=colour, linestyle="none",
                  markeredgecolor=INK if colour == "white" else colour, markeredgewidth=2.4)  # fmt: skip
        axes.text(36, 16 + 34 * row, name, va="center", fontsize=14, color=INK)
    figure.text(20 / WIDTH, 1 - 966 / HEIGHT, CAUTION, va="top", fontsize=12, color=PALE)


def _lines(support: ToothSupport) -> list[tuple[str, str]]:
    """Return title and text of what is said of the tooth."""
    tooth, ratios = support.tooth, support.ratios
    depths = [tooth.jaw_sign * r.centre.point[2] - tooth.bone_level for r in ratios.values()]

    def both(values: list[float], unit: str, places: int = 2) -> str:
        words = (f"{v:.{places}f} {plane}" for v, plane in zip(values, ratios, strict=True))
        return f"{', '.join(words)}, {unit}"

    out = [
        ("Root in the bone", f"{tooth.embedded_length:.1f} mm, {tooth.surface.area:.0f} mm\u00b2"),
        ("Bone crest below the cemento-enamel junction", f"{tooth.bone_level:.1f} mm"),
        ("Centre of resistance below the crest", both(depths, "mm")),
        ("Bracket to centre of resistance", both([r.distance for r in ratios.values()], "mm")),
        ("Stiffness across the long axis", both([r.centre.lateral_stiffness for r in ratios.values()], "N/mm", 1)),
        ("Ligament", f"{support.ligament.name}, model {support.model}"),
    ]  # fmt: skip
    if tooth.shape is not None:
        out.insert(0, ("Volume", f"{tooth.shape.volume:.0f} mm\u00b3"))
    return out
