"""Links between the stations of a wire and the teeth that hold it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from biomech.appliance.parts import HoldPart, ToothPart
from biomech.appliance.stations import index_of
from biomech.appliance.wires import Grip, Layout
from biomech.attachments._parts import Sliding
from biomech.attachments.slot import FAR, LIGATURES, Slot
from biomech.attachments.tie import STIFFNESS, Tie
from biomech.attachments.tube import RoundTube
from biomech.mechanics.contact import ContactLaw
from biomech.mechanics.links import Links
from biomech.mechanics.poses import Array, Pose
from biomech.scenario import Hold, Scenario

CONTACT_STIFFNESS = 1e4
"""Stiffness of one corner contact of wire and slot, N/mm. Assumed: stiff beside wire and ligament."""
TIED_BACK = 1000.0
"""Stiffness with which a tie-back keeps the wire from sliding, N/mm. Assumed."""
CREEP = 0.01
"""N/mm along a freely sliding wire, so that its place is defined (numerical choice)."""

Row = tuple[Grip, int, float]  # grip, tooth, s of the station


def hold_links(
    layout: Layout, scenario: Scenario, teeth: Mapping[int, ToothPart], frames: np.ndarray, first_group: int
) -> tuple[list[Links], list[HoldPart]]:
    """Return the link groups of one wire's holds and which rows belong to which tooth.

    `frames` (n + 1,) are the frames of the wire's stations; groups are numbered from `first_group`.
    """
    families: dict[str, list[Row]] = {"slots": [], "tubes": [], "ties": []}
    for grip in layout.grips:
        family = _family(grip, layout)
        for s in grip.at if family else ():
            for tooth in (grip.tooth,) if grip.partner is None else (grip.tooth, grip.partner):
                families[family].append((grip, tooth, s))
    makers: dict[str, Callable[..., ContactLaw]] = {"slots": _slots, "tubes": _tubes, "ties": _ties}
    groups: list[Links] = []
    parts: list[HoldPart] = []
    for family, rows in families.items():
        if rows:
            law = makers[family](layout, scenario, rows)
            groups.append(_links(f"{layout.name} {family}", layout, teeth, frames, rows, law))
            parts += _parts(layout, rows, first_group + len(groups) - 1)
    return groups, parts


def _family(grip: Grip, layout: Layout) -> str:
    by = grip.model.by
    if by == "tube":
        return "tubes" if layout.model.section == "round" and grip.model.play is not None else "slots"
    return {"slot": "slots", "tie": "ties", "bonded": ""}[by]


def _links(
    name: str, layout: Layout, teeth: Mapping[int, ToothPart], frames: np.ndarray, rows: Sequence[Row], law: ContactLaw
) -> Links:
    stations = np.array([frames[index_of(layout.line, s)] for _, _, s in rows])
    holders = np.array([teeth[tooth].frame for _, tooth, _ in rows])
    in_slot = isinstance(law, Slot)
    poses = [holder_pose(layout, teeth[tooth], s, in_slot) for _, tooth, s in rows]
    offset = Pose(np.stack([p.rotation for p in poses]), np.stack([p.position for p in poses]))
    labels = tuple(f"{grip.model.by} of {layout.name} at {tooth}" for grip, tooth, _ in rows)
    return Links(name, stations, holders, law, "section", None, offset, labels=labels)


def holder_pose(layout: Layout, part: ToothPart, s: float, in_slot: bool = False) -> Pose:
    """Return the pose, in the tooth frame, of the holder of the fitted wire at s; a displaced slot takes it along.

    A prescription turns only what lies `in_slot`.
    """
    fitted = layout.fitted_at(np.array(s))
    relative = part.slot.inverse() @ fitted
    return (part.slot_in_tooth if in_slot else part.body_in_tooth) @ relative


def _parts(layout: Layout, rows: Sequence[Row], group: int) -> list[HoldPart]:
    keys: dict[tuple[int, int | None, int], list[int]] = {}
    for i, (grip, tooth, _) in enumerate(rows):
        partner = None if grip.partner is None else (grip.partner if tooth == grip.tooth else grip.tooth)
        keys.setdefault((tooth, partner, id(grip)), []).append(i)
    by = {id(grip): grip.model.by for grip, _, _ in rows}
    return [
        HoldPart(layout.name, tooth, by[grip], group, np.array(found), partner)
        for (tooth, partner, grip), found in keys.items()
    ]


def _column(rows: Sequence[Row], value: Callable[[Hold], float]) -> Array:
    return np.array([value(grip.model) for grip, _, _ in rows], dtype=float)


def _slots(layout: Layout, scenario: Scenario, rows: Sequence[Row]) -> Slot:
    bracket, section = scenario.bracket, layout.section
    n = np.ones(len(rows))

    def slot_height(hold: Hold) -> float:
        if hold.play is not None:
            return section.height + hold.play
        return bracket.slot_height if hold.clearance is None else section.height + hold.clearance

    def closed(hold: Hold) -> float:
        shut = hold.by == "tube" or hold.ligature == "clip"
        return max(bracket.slot_depth, section.depth) if shut else FAR

    def ligature(hold: Hold, item: int) -> float:
        kind = "none" if hold.by == "tube" else hold.ligature or "elastomeric"
        return 0.5 * LIGATURES[kind][item]  # half at each edge of the bracket

    return Slot(
        _column(rows, slot_height),
        _column(rows, closed),
        section.height * n,
        section.depth * n,
        section.bevel * n,
        (bracket.contact_stiffness or CONTACT_STIFFNESS) * n,
        _column(rows, lambda h: ligature(h, 0)),
        _column(rows, lambda h: ligature(h, 1)),
        _sliding(rows),
    )


def _tubes(layout: Layout, scenario: Scenario, rows: Sequence[Row]) -> RoundTube:
    stiffness = scenario.bracket.contact_stiffness or CONTACT_STIFFNESS
    return RoundTube(
        _column(rows, lambda h: 0.5 * (h.play or 0.0)), stiffness * np.ones(len(rows)), _sliding(rows)
    )


def _ties(layout: Layout, scenario: Scenario, rows: Sequence[Row]) -> Tie:
    share = np.array([1.0 if grip.partner is None else 0.5 for grip, _, _ in rows])
    stiffness = _column(rows, lambda h: STIFFNESS[h.material or "steel"] if h.stiffness is None else h.stiffness)
    return Tie(_column(rows, lambda h: h.slack or 0.0), share * stiffness)


def _sliding(rows: Sequence[Row]) -> Sliding:
    hold = _column(rows, lambda h: 0.5 * TIED_BACK if h.slides == "tied back" else CREEP)
    friction = _column(rows, lambda h: (h.friction or 0.0) if h.slides == "friction" else 0.0)
    return Sliding(hold, friction)


def bonded_offsets(layout: Layout, teeth: Mapping[int, ToothPart]) -> dict[int, tuple[int, Pose]]:
    """Return, for every bonded station (index on the wire), the tooth and its pose in the tooth frame."""
    out = {}
    for grip in layout.grips:
        if grip.model.by == "bonded":
            s = grip.at[0]
            out[index_of(layout.line, s)] = (grip.tooth, holder_pose(layout, teeth[grip.tooth], s))
    return out


