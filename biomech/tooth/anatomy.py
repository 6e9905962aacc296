"""Dimensions of the permanent teeth by ISO 3950 number, with how far each source was seen.

Crown and root sizes: the table of specifications for drawing and carving in the handbooks of dental anatomy
(Ash and Nelson). `seen` says which columns were seen in a reprint; the rest is from memory. Root areas:
Jepsen 1963, from memory. Bracket heights: an average chart, from memory. Positions and inclinations of
the roots of molars are assumed, chosen plausible; the furcation's height is published for first molars only.
"""

from __future__ import annotations

from dataclasses import dataclass

from biomech.errors import InputError

NUMBERS = tuple(10 * quadrant + position for quadrant in (1, 2, 3, 4) for position in range(1, 8))
"""The 28 tooth numbers that are known."""


@dataclass(frozen=True)
class RootShape:
    """One root of a tooth with several, in anatomical directions.

    `name`; `length` from the cemento-enamel junction to the apex, mm; `centre` (mesial, buccal) and
    `half_axes` (mesiodistal, buccolingual) of its base at the furcation, as shares of the trunk's half-axes
    there; `tilt` (mesial, buccal) of its axis, degrees. Assumed except the length.
    """

    name: str
    length: float
    centre: tuple[float, float]
    half_axes: tuple[float, float]
    tilt: tuple[float, float]


@dataclass(frozen=True)
class Anatomy:
    """Average size of one kind of tooth, mm: lengths, mesiodistal (md) and buccolingual (bl) diameters.

    `root_length` is the longest root. `area` is the measured root surface in mm2. `furcation` is the distance
    from the cemento-enamel junction to the parting of the roots (0 when single-rooted).
    """

    kind: str
    name: str
    crown_length: float
    root_length: float
    md_crown: float
    md_cervix: float
    bl_crown: float
    bl_cervix: float
    bracket_height: float
    area: float
    seen: str
    furcation: float = 0.0
    roots: tuple[RootShape, ...] = ()


_U4 = (
    RootShape("buccal", 14.0, (0.0, 0.50), (0.85, 0.46), (0.0, 4.0)),
    RootShape("palatal", 14.0, (0.0, -0.50), (0.85, 0.46), (0.0, -6.0)),
)


def _upper_molar(buccal: float, palatal: float, spread: float) -> tuple[RootShape, ...]:
    return (
        RootShape("mesiobuccal", buccal, (0.45, 0.42), (0.42, 0.50), (2.0 * spread, 8.0 * spread)),
        RootShape("distobuccal", buccal, (-0.45, 0.42), (0.40, 0.46), (-9.0 * spread, 8.0 * spread)),
        RootShape("palatal", palatal, (0.0, -0.52), (0.66, 0.46), (0.0, -16.0 * spread)),
    )


def _lower_molar(length: float, spread: float) -> tuple[RootShape, ...]:
    return (
        RootShape("mesial", length, (0.52, 0.0), (0.44, 0.88), (2.0 * spread, 0.0)),
        RootShape("distal", length, (-0.52, 0.0), (0.44, 0.84), (-9.0 * spread, 0.0)),
    )


# Furcations: U6 3.6, 4.2, 4.8 mm (mesial, facial, distal) and L6 4.0 mm, abstract only; U4 from memory;
# second molars assumed to be like first ones.
_LENGTHS = "lengths seen; the rest from memory"
_NOT_CERVIX = "seen except the buccolingual cervix, which is from memory"
_ALL = "seen"
_TABLE = (
    Anatomy("U1", "upper central incisor", 10.5, 13.0, 8.5, 7.0, 7.0, 6.0, 5.0, 204.0, _NOT_CERVIX),
    Anatomy("U2", "upper lateral incisor", 9.0, 13.0, 6.5, 5.0, 6.0, 5.0, 4.5, 179.0, _ALL),
    Anatomy("U3", "upper canine", 10.0, 17.0, 7.5, 5.5, 8.0, 7.0, 5.0, 273.0, _LENGTHS),
    Anatomy("U4", "upper first premolar", 8.5, 14.0, 7.0, 5.0, 9.0, 8.0, 4.5, 234.0, _LENGTHS, 8.0, _U4),
    Anatomy("U5", "upper second premolar", 8.5, 14.0, 7.0, 5.0, 9.0, 8.0, 4.0, 220.0, _NOT_CERVIX),
    Anatomy(
        "U6", "upper first molar", 7.5, 13.0, 10.0, 8.0, 11.0, 10.0, 3.0, 433.0, _ALL, 4.2,
        _upper_molar(12, 13, 1),
    ),
    Anatomy(
        "U7", "upper second molar", 7.0, 12.0, 9.0, 7.0, 11.0, 10.0, 2.0, 431.0, _LENGTHS, 4.2,
        _upper_molar(11, 12, 0.6),
    ),
    Anatomy("L1", "lower central incisor", 9.0, 12.5, 5.0, 3.5, 6.0, 5.3, 4.0, 154.0, _ALL),
    Anatomy("L2", "lower lateral incisor", 9.5, 14.0, 5.5, 4.0, 6.5, 5.8, 4.0, 168.0, _LENGTHS),
    Anatomy("L3", "lower canine", 11.0, 16.0, 7.0, 5.5, 7.5, 7.0, 4.5, 268.0, _LENGTHS),
    Anatomy("L4", "lower first premolar", 8.5, 14.0, 7.0, 5.0, 7.5, 6.5, 4.0, 180.0, _LENGTHS),
    Anatomy("L5", "lower second premolar", 8.0, 14.5, 7.0, 5.0, 8.0, 7.0, 3.5, 207.0, _LENGTHS),
    Anatomy(
        "L6", "lower first molar", 7.5, 14.0, 11.0, 9.0, 10.5, 9.0, 2.5, 431.0, _ALL, 4.0, _lower_molar(14, 1)
    ),
    Anatomy(
        "L7", "lower second molar", 7.0, 13.0, 10.5, 8.0, 10.0, 9.0, 2.5, 426.0, "from memory", 4.0,
        _lower_molar(13, 0.6),
    ),
)  # fmt: skip
KINDS = {row.kind: row for row in _TABLE}
"""The fourteen kinds of tooth: U or L for the jaw and the position from the midline."""


def check_number(number: int) -> int:
    """Return `number`; raise InputError unless it is one of the 28 ISO 3950 numbers known."""
    if isinstance(number, bool) or number not in NUMBERS:
        allowed = "11 to 17, 21 to 27, 31 to 37 and 41 to 47 (ISO 3950)"
        raise InputError(f"tooth number {number!r} is not known; allowed: {allowed}")
    return int(number)


def anatomy(number: int) -> Anatomy:
    """Return the average anatomy of tooth `number`; an unknown number raises InputError."""
    quadrant, position = divmod(check_number(number), 10)
    return KINDS[f"{'U' if quadrant < 3 else 'L'}{position}"]


def side_sign(number: int) -> int:
    """Return +1 on the patient's right, -1 on the left: mesial = side_sign times the arch direction a1."""
    return 1 if check_number(number) // 10 in (1, 4) else -1


def jaw_sign(number: int) -> int:
    """Return +1 in the upper jaw, -1 in the lower: apical = jaw_sign times up (a3)."""
    return 1 if check_number(number) // 10 < 3 else -1
