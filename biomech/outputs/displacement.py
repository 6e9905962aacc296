"""Initial (elastic) displacement of the landmarks."""

from __future__ import annotations

from biomech.outputs import ToothView, Value, add


@add("crown_mm", "displacement of the crown (edge or buccal cusp)", "mm")
def crown(view: ToothView) -> Value:
    """Return the displacement of incisal edge or buccal cusp: + mesial, + buccal, + occlusal."""
    return view.words(view.displacement(view.part.tooth.landmarks["edge"]))


@add("bracket_mm", "displacement of the bracket", "mm")
def bracket(view: ToothView) -> Value:
    """Return the displacement of the slot's centre."""
    return view.words(view.displacement(view.bracket))


@add("apex_mm", "displacement of the apex (root tip, mean of several)", "mm")
def apex(view: ToothView) -> Value:
    """Return the displacement of the apex (mean of several)."""
    return view.words(view.displacement(view.part.tooth.landmarks["apex"]))


@add("lingual_cusp_mm", "displacement of the palatal (lingual) cusp", "mm")
def lingual_cusp(view: ToothView) -> Value:
    """Return the displacement of the palatal or lingual cusp tip; None on incisors and canines."""
    marks = view.part.tooth.landmarks
    name = next((n for n in ("palatal cusp", "lingual cusp") if n in marks), None)
    return None if name is None else view.words(view.displacement(marks[name]))
