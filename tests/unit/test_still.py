"""A tooth that hardly moves in a variant has no kind of movement and no ratios there; all else stays as it was."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from biomech.studies.rows import SLIGHT, Row
from biomech.studies.still import HARDLY, SAME_MOVE, told

MM = st.floats(-2.0, 2.0)


def rows(moves: list[tuple[float, float]], kinds: list[str]) -> list[Row]:
    crowns, apices = zip(*moves, strict=True)
    ratios = tuple(a / c if c else None for c, a in moves)
    table = {
        "long_axis_mm.crown": crowns, "long_axis_mm.apex": apices, "movement": tuple(kinds), "apex_to_crown": ratios,
        "tip_deg_per_mm": ratios, "force_N.buccal": crowns,
    }  # fmt: skip
    return [Row("tooth 11", f"teeth.11.{key}", key, "", values) for key, values in table.items()]


@given(st.lists(st.tuples(MM, MM), min_size=2, max_size=4))
def test_exactly_those_that_hardly_move_lose_kind_and_ratios(moves: list[tuple[float, float]]) -> None:
    before = {r.path: r for r in rows(moves, ["tipping"] * len(moves))}
    after = {r.path: r for r in told(list(before.values()))}
    largest = max(max(abs(c), abs(a)) for c, a in moves)
    for i, (crown, apex) in enumerate(moves):
        rests = max(abs(crown), abs(apex)) < max(SAME_MOVE, SLIGHT * largest)
        assert (after["teeth.11.movement"].values[i] == HARDLY) == rests
        for key in ("apex_to_crown", "tip_deg_per_mm"):
            path = f"teeth.11.{key}"
            assert after[path].values[i] == (None if rests else before[path].values[i])
    for path in ("teeth.11.force_N.buccal", "teeth.11.long_axis_mm.crown"):
        assert after[path] == before[path]


def test_what_goes_along_its_axis_or_is_held_keeps_its_name() -> None:
    found = {r.path: r for r in told(rows([(0.0, 0.0), (0.1, 0.0)], ["intrusion", "tipping"]))}
    assert found["teeth.11.movement"].values == ("intrusion", "tipping")
    held = Row("tooth 11", "teeth.11.movement", "movement", "", ("held", "held"))
    axis = Row("tooth 11", "teeth.11.long_axis_mm", "axis", "mm", (None, None))
    assert told([held, axis]) == [held, axis]
