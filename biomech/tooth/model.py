"""One tooth as a frame: its root surface, its landmarks and its shape, in the axes of the tooth frame.

Tooth frame: origin where the long axis meets the plane of the cemento-enamel junction; a3 along the long
axis, up; a1 along the arch from the patient's right to left; a2 buccal. Anatomical (mesial, buccal, apical)
map to it by the signs (side, 1, jaw): on the upper left and lower right that is a reflection.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from biomech.errors import InputError, nearest
from biomech.mechanics.poses import Array
from biomech.tooth.anatomy import Anatomy, RootShape, anatomy, check_number, jaw_sign, side_sign
from biomech.tooth.crown import Crown
from biomech.tooth.meshes import Mesh, crown_mesh, root_mesh, thinned
from biomech.tooth.roots import Paraboloid, RootMesh, Surface, Trunk, join

TAPER = 0.0125
"""Share of its half-axes that a root trunk loses per mm of depth. Assumed."""

_GRAIN = 1.3  # spacing of the vertices of a thinned shape, times `around`, in widths of the crown

_DIRECTIONS = {
    "mesial": (1, 0, 0), "distal": (-1, 0, 0),
    "buccal": (0, 1, 0), "labial": (0, 1, 0), "lingual": (0, -1, 0), "palatal": (0, -1, 0),
    "apical": (0, 0, 1), "gingival": (0, 0, 1), "occlusal": (0, 0, -1), "incisal": (0, 0, -1),
}  # fmt: skip
_LIMITS = {
    "bone_level": (0.0, 25.0),
    "crown_length": (3.0, 20.0),
    "root_length": (3.0, 35.0),
    "bracket_height": (0.5, 12.0),
    "ligament_thickness": (0.02, 1.0),
}


@dataclass(frozen=True, eq=False)
class Shape:
    """Form of a tooth given as a surface mesh, in the axes of the tooth frame, mm.

    `crown`, `root`: the parts above and below the plane of the cemento-enamel junction; `ligament`: triangles of
    the mid-ligament surface below the crest; `width`: mesiodistal diameter of the crown; `volume`: of the whole
    tooth, mm3; `source`: where it comes from; `notes`: what was assumed, `repairs`: what was repaired or turned, a
    sentence each.
    """

    crown: Mesh
    root: Mesh
    ligament: RootMesh
    width: float
    volume: float
    source: str
    notes: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tooth:
    """A tooth; build it with `make_tooth` or, from a surface mesh, with `biomech.surfaces.mesh_tooth`.

    Lengths in mm, arrays in the tooth frame. `bone_level`: alveolar crest below the cemento-enamel junction;
    `surface`: mid-ligament surface of the embedded root; `landmarks`: points (3,) by name; `roots`, `trunk`: whole
    root, anatomical coordinates, none for a tooth with a `shape` of its own; `shape`: that of a surface mesh.
    """

    number: int
    anatomy: Anatomy
    bone_level: float
    crown_length: float
    root_length: float
    bracket_height: float
    ligament_thickness: float
    roots: tuple[Paraboloid, ...]
    trunk: Trunk | None
    surface: Surface = field(repr=False, compare=False)
    landmarks: Mapping[str, Array] = field(repr=False, compare=False)
    shape: Shape | None = field(default=None, repr=False)

    @property
    def name(self) -> str:
        """Name in words, such as "upper first molar"."""
        return self.anatomy.name

    @property
    def side_sign(self) -> int:
        """+1 on the patient's right, -1 on the left."""
        return side_sign(self.number)

    @property
    def jaw_sign(self) -> int:
        """+1 in the upper jaw, -1 in the lower."""
        return jaw_sign(self.number)

    @property
    def signs(self) -> Array:
        """Factors (3,) that take (mesial, buccal, apical) to (a1, a2, a3)."""
        return np.array([self.side_sign, 1.0, self.jaw_sign])

    @property
    def width(self) -> float:
        """Mesiodistal diameter of the crown, mm."""
        return self.anatomy.md_crown if self.shape is None else self.shape.width

    @property
    def embedded_length(self) -> float:
        """Length of the longest root below the alveolar crest, mm."""
        return self.root_length - self.bone_level

    @property
    def is_posterior(self) -> bool:
        """Whether the tooth is a premolar or molar."""
        return self.number % 10 > 3

    @property
    def crown(self) -> Crown:
        """Shape of the handbook crown; a tooth with a `shape` has its own, see `crown_surface`."""
        return Crown(self.anatomy, self.crown_length)

    def direction(self, word: str) -> Array:
        """Return the unit vector (3,) of an anatomical direction; an unknown word raises InputError."""
        if word not in _DIRECTIONS:
            known = ", ".join(_DIRECTIONS)
            raise InputError(f"unknown direction '{word}'; known: {known}.{nearest(word, _DIRECTIONS)}")
        return np.array(_DIRECTIONS[word]) * self.signs

    def landmark(self, name: str) -> Array:
        """Return the landmark (3,) called `name`; an unknown one raises InputError listing the known ones."""
        if name not in self.landmarks:
            known = ", ".join(f"'{k}'" for k in self.landmarks)
            hint = nearest(name, self.landmarks)
            raise InputError(f"tooth {self.number} has no landmark '{name}'; known: {known}.{hint}")
        return self.landmarks[name]

    def embedded(self) -> tuple[Trunk | None, tuple[Paraboloid, ...]]:
        """Return trunk and roots below the crest, on the middle of the ligament, anatomical coordinates.

        None and no roots for a tooth with a `shape`: there they are `shape.ligament`.
        """
        return _embedded(self.trunk, self.roots, self.bone_level, 0.5 * self.ligament_thickness)

    def crown_surface(self, around: int = 48) -> Mesh:
        """Return the triangulated crown, open at the cemento-enamel junction, for pictures.

        A `shape` is thinned in proportion; it needs smaller triangles than rings do to look as smooth.
        """
        if self.shape is not None:
            return thinned(self.shape.crown, _GRAIN * self.width / around)
        return crown_mesh(self.crown, around).mapped(self.signs * np.array([1.0, 1.0, -1.0]))

    def root_surface(self, around: int = 32) -> Mesh:
        """Return the triangulated root from the cemento-enamel junction to the apices, for pictures."""
        if self.shape is not None:
            return thinned(self.shape.root, _GRAIN * self.width / around)
        return root_mesh(self.trunk, self.roots, around).mapped(self.signs)


def make_tooth(
    number: int,
    *,
    bone_level: float = 1.5,
    crown_length: float | None = None,
    root_length: float | None = None,
    bracket_height: float | None = None,
    ligament_thickness: float = 0.2,
    fineness: int = 1,
) -> Tooth:
    """Return tooth `number` (ISO 3950) with its average anatomy and the given deviations, all in mm.

    `bone_level`: crest below the cemento-enamel junction (average 1 to 1.5 mm, from memory); `root_length`:
    of the longest root, the others scale with it; `bracket_height`: slot from incisal edge or buccal cusp;
    `ligament_thickness` places the support on the middle of the ligament; `fineness` multiplies the number
    of quadrature points in both directions. Raises InputError for values out of range or leaving no embedded
    root.
    """
    shape = anatomy(check_number(number))
    sizes = {
        "bone_level": bone_level,
        "crown_length": shape.crown_length if crown_length is None else crown_length,
        "root_length": shape.root_length if root_length is None else root_length,
        "bracket_height": shape.bracket_height if bracket_height is None else bracket_height,
        "ligament_thickness": ligament_thickness,
    }
    _check(number, sizes)
    trunk, roots = _whole_root(number, shape, sizes["root_length"])
    try:
        parts = _embedded(trunk, roots, bone_level, 0.5 * ligament_thickness)
    except InputError as error:
        raise InputError(f"tooth {number}: {error}") from None
    signs = np.array([side_sign(number), 1.0, jaw_sign(number)])
    marks = _landmarks(shape, sizes, trunk, roots, number > 30)
    landmarks = MappingProxyType({key: _frozen(point * signs + 0.0) for key, point in marks.items()})
    surface = _quadrature(*parts, fineness).mapped(signs)
    for array in (surface.points, surface.normals, surface.weights):
        array.setflags(write=False)
    return Tooth(number=int(number), anatomy=shape, roots=roots, trunk=trunk, surface=surface,
                 landmarks=landmarks, shape=None, **sizes)  # fmt: skip


def _check(number: int, sizes: dict[str, float]) -> None:
    for key, value in sizes.items():
        low, high = _LIMITS[key]
        if not low <= value <= high:
            allowed = f"allowed: {low:g} to {high:g} mm"
            raise InputError(f"tooth {number}: {key} = {value!r} mm cannot be used; {allowed}")
    if sizes["bracket_height"] >= sizes["crown_length"]:
        raise InputError(
            f"tooth {number}: bracket_height = {sizes['bracket_height']:g} mm is not on the crown; "
            f"allowed: less than its crown_length, {sizes['crown_length']:g} mm"
        )


def _whole_root(number: int, shape: Anatomy, length: float) -> tuple[Trunk | None, tuple[Paraboloid, ...]]:
    """Return trunk and roots from the cemento-enamel junction, anatomical coordinates."""
    a, b = 0.5 * shape.md_cervix, 0.5 * shape.bl_cervix
    if not shape.roots:
        return None, (Paraboloid(a, b, length),)
    scale = length / shape.root_length
    shortest = scale * min(root.length for root in shape.roots)
    if shortest < shape.furcation + 1.0:
        low = (shape.furcation + 1.0) * shape.root_length / min(root.length for root in shape.roots)
        raise InputError(f"tooth {number}: root_length = {length:g} mm does not reach past the furcation; "
                         f"allowed: at least {low:.1f} mm")  # fmt: skip
    narrowing = 1.0 - TAPER * shape.furcation
    trunk = Trunk((a, b), (narrowing * a, narrowing * b), 0.0, shape.furcation)
    return trunk, tuple(_branch(root, trunk, scale) for root in shape.roots)


def _branch(root: RootShape, trunk: Trunk, scale: float) -> Paraboloid:
    """Return one root leaving the bottom of the trunk."""
    a, b = trunk.lower
    slope = np.tan(np.radians(root.tilt))
    return Paraboloid(
        root.half_axes[0] * a,
        root.half_axes[1] * b,
        scale * root.length - trunk.bottom,
        trunk.bottom,
        (root.centre[0] * a, root.centre[1] * b),
        (float(slope[0]), float(slope[1])),
    )


def _embedded(
    trunk: Trunk | None, roots: tuple[Paraboloid, ...], level: float, by: float
) -> tuple[Trunk | None, tuple[Paraboloid, ...]]:
    if trunk is not None:
        trunk = trunk.cut(level).grown(by) if level < trunk.bottom else None
    return trunk, tuple(root.cut(level).grown(by) for root in roots)


def _quadrature(trunk: Trunk | None, roots: tuple[Paraboloid, ...], fineness: int) -> Surface:
    """Return the quadrature: 128 points for one root (8 rings of 16), up to 204 for several (rings of 12)."""
    if not isinstance(fineness, int) or fineness < 1:
        raise InputError(f"fineness = {fineness!r} cannot be used; allowed: 1, 2, 3 ...")
    if len(roots) == 1:
        return roots[0].surface(8 * fineness, 16 * fineness)
    rings, wall = (7, 3) if len(roots) == 2 else (5, 2)
    parts = [] if trunk is None else [trunk.surface(wall * fineness, 12 * fineness)]
    return join(parts + [root.surface(rings * fineness, 12 * fineness) for root in roots])


def _landmarks(
    shape: Anatomy, sizes: dict[str, float], trunk: Trunk | None, roots: tuple[Paraboloid, ...], lower: bool
) -> dict[str, Array]:
    """Return the landmarks in anatomical coordinates."""
    crown = Crown(shape, sizes["crown_length"])
    up = np.array([1.0, 1.0, -1.0])
    cusps = [crown.tip(cusp) * up for cusp in crown.cusps]
    height = 1.0 - sizes["bracket_height"] / crown.length
    marks = {"edge": cusps[0] if cusps else np.array([0.0, 0.0, -crown.length])}
    if cusps:
        marks["lingual cusp" if lower else "palatal cusp"] = cusps[1]
    marks["bracket"] = crown.facial(height) * up
    marks["cej"] = np.zeros(3)
    marks["crest"] = np.array([0.0, 0.0, sizes["bone_level"]])
    if trunk is not None:
        marks["furcation"] = np.array([0.0, 0.0, trunk.bottom])
        marks |= {f"apex {form.name}": root.apex for form, root in zip(shape.roots, roots, strict=True)}
    marks["apex"] = np.mean([root.apex for root in roots], axis=0)
    return marks


def _frozen(array: Array) -> Array:
    array = array.copy()
    array.setflags(write=False)
    return array
