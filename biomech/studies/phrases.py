"""Displacements and moments in words."""

from __future__ import annotations

import re

from biomech.tooth.kinds import RESTS, crown_tells

REST = RESTS
"""Share of the crown's displacement up to which an apex rests, and the other way about."""
LEAST_CROWN = 0.05
"""mm that a crown must have gone in a course for ratios to it: places are known to about 0.01 mm (compare_courses),
such ratios therefore to a fifth. A convention."""
AS_FAR = (0.8, 1.25)
"""Apex over crown displacement within which an apex goes as far as its crown; as in tooth.kinds."""
DOUBLE = 100.0
"""Percent from which more is told as a multiple."""
ABOUT = 5.0
"""Percent up to which two amounts count as alike. A convention."""


_PIECE = re.compile(r".+?(?:(?<=\w)[-_/](?=.)|(?<=\w)\.(?=\D)|\s+|$)")
"""A piece of a name, up to where it may break: after a space, hyphen, underscore, slash, or a point not in a number."""


def broken(name: str, line: int, most: int) -> str | None:
    """Return a name in lines of at most `line` letters; None where a piece is longer, or lines are more than `most`."""
    lines = [""]
    for piece in _PIECE.findall(name):
        if len((lines[-1] + piece).rstrip()) > line and lines[-1]:
            lines.append("")
        lines[-1] += piece
    lines = [text.rstrip() for text in lines]
    fits = len(lines) <= most and max(map(len, lines)) <= line
    return "\n".join(lines) if fits else None


def crown_leads(crown: float, apex: float) -> bool:
    """Return whether ratios to a crown's movement say something (buccal movements of a course, mm).

    Not where the crown has hardly gone, nor where it rests while its root goes (see tooth.kinds.crown_tells).
    """
    return abs(crown) >= LEAST_CROWN and crown_tells(crown, apex)


def apex_phrase(crown: float, apex: float, apex_before: float) -> str:
    """Return what an apex does (buccal displacements, mm), against the reference."""
    if abs(apex) <= REST * abs(crown):
        does = "rests"
    elif abs(crown) <= REST * abs(apex):
        does = "goes alone"
    elif crown * apex < 0:
        does = "goes the other way"
    elif apex / crown < AS_FAR[0]:
        does = "follows the crown"
    else:
        does = "goes as far as the crown" if apex / crown <= AS_FAR[1] else "leads the crown"
    return f"its apex {does} ({against(apex, apex_before)})"


def crown_phrase(crown: float, before: float) -> str:
    """Return how much a crown moves (buccal displacements, mm) against the reference, which moves it."""
    amounts = f"({against(crown, before)})"
    if crown * before <= 0 or abs(before) < REST * abs(crown):
        return f"its crown goes another way {amounts}" if crown * before < 0 else f"its crown moves {amounts}"
    change = 100.0 * (abs(crown) / abs(before) - 1.0)
    verb, more, less = ("gains", "more", "less") if crown > 0 else ("goes", "farther", "less far")
    if abs(change) < ABOUT:
        return f"its crown {verb} as {'much' if crown > 0 else 'far'} {amounts}"
    if change > DOUBLE:
        return f"its crown {verb} {abs(crown / before):.1f} times as {'much' if crown > 0 else 'far'} {amounts}"
    return f"its crown {verb} {abs(change):.0f} % {more if change > 0 else less} {amounts}"


def toward(value: float) -> str:
    """Return a buccal displacement, mm, in words: "0.020 mm lingually"."""
    size = f"{abs(value):.3f}"
    return "0.000 mm" if float(size) == 0 else f"{size} mm {_way(value)}"


def against(value: float, other: float) -> str:
    """Return two buccal displacements, mm: "0.049 mm buccally, against 0.079", the way repeated where it differs."""
    alike = value * other > 0 and min(abs(value), abs(other)) >= 0.0005
    return f"{toward(value)}, against {f'{abs(other):.3f}' if alike else toward(other)}"


def root(value: object) -> str:
    """Return a torque moment in words: "8.2 lingual root"; "-" where there is none."""
    if not isinstance(value, float):
        return "-"
    size = f"{abs(value):.1f}"
    return "0" if float(size) == 0 else f"{size} {'buccal' if value > 0 else 'lingual'} root"


def capital(text: str) -> str:
    """Return `text` with its first letter a capital."""
    return text[:1].upper() + text[1:]


def _way(value: float) -> str:
    return "buccally" if value > 0 else "lingually"
