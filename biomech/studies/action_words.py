"""What is done to a wire, in the words of the trade: keys of its table as sentences, values as they were written."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

Table = Mapping[str, Any]

_MATERIAL = ("section", "height", "depth", "diameter", "bevel", "alloy", "young")
_SHAPE = ("shape", "form_width", "form_depth", "points")
_SPAN = ("from", "to")
_BENDS = {
    "torque": "torque",
    "tip": "second-order bend",
    "rotate": "first-order bend",
    "step_out": "in-out bend",
    "step_up": "vertical step",
}
"""Bends given tooth by tooth, and what they are called."""
_HELD = {"slot": "in the slots of {}", "tube": "in the tubes of {}", "tie": "tied to {}", "bonded": "bonded to {}"}
_LIGATURE = {
    "steel": "steel ligatures", "elastomeric": "elastomeric ligatures", "clip": "clips", "none": "without ligatures",
}  # fmt: skip
_SLIDES = {"free": "free to slide", "friction": "sliding with friction", "tied back": "tied back"}


def put_in(name: str, table: Table, *, anew: bool = False) -> str:
    """Return the line of a wire that was not there before, or with `anew` of one in the place of the same."""
    told = {key: value for key, value in table.items() if key != "piece"}
    what = [_material(table), *(text for _, text in _phrases(told, table) if text)]
    return f"wire '{name}' {'renewed' if anew else 'put in'}: {', '.join(what)}"


def changed(name: str, before: Table, table: Table) -> list[str]:
    """Return a line for everything that `table` changes in a wire, which was `before` (tables as in the file)."""
    after = {**before, **table}
    lines = []
    if any(key in table and table[key] != before.get(key) for key in _MATERIAL):
        lines.append(f"wire '{name}': {_material(after)} instead of {_material(before, after)}")
    fresh = {k: v for k, v in table.items() if k not in _MATERIAL and v != before.get(k)}
    lines += [f"wire '{name}' {text or without}" for without, text in _phrases(fresh, after)]
    return lines or [f"wire '{name}' left as it was: no new one put in"]


def hold_line(name: str, hold: Table) -> str:
    """Return the line of a further hold of a wire."""
    return f"wire '{name}' now {held(hold)}"


def held(hold: Table) -> str:
    """Return in words how teeth hold a wire: "in the slots of 16, 26 (steel ligatures, tied back)"."""
    pairs = " and ".join(f"{a} and {b}" for a, b in _listed(hold.get("between", ())))
    if pairs:
        where = f"tied between {pairs}"
    else:
        form = _HELD.get(str(hold["by"]), f"held by {hold['by']} at {{}}")
        where = form.format("all teeth" if hold["teeth"] == "all" else teeth_list(hold["teeth"]))
    more = [text for key, say in _HOLD_WORDS.items() if key in hold and (text := say(hold[key], hold))]
    return where + (f" ({', '.join(more)})" if more else "")


def teeth_list(teeth: Sequence[Any]) -> str:
    """Return tooth numbers as text: "16, 26"."""
    return ", ".join(str(n) for n in teeth)


def _friction(value: Any, hold: Table) -> str:
    return f"{_SLIDES[value]} {hold['friction']}" if value == "friction" and "friction" in hold else _SLIDES[value]


_HOLD_WORDS: dict[str, Callable[[Any, Table], str]] = {
    "ligature": lambda v, _: _LIGATURE[v],
    "material": lambda v, _: str(v),
    "slides": _friction,
    "width": lambda v, hold: f"{hold['by']} {v} wide",
    "clearance": lambda v, _: f"clearance {v}",
    "play": lambda v, _: "held tightly" if v == "none" else f"play {v}",
    "stiffness": lambda v, _: f"stiffness {v}",
    "slack": lambda v, _: f"slack {v}",
}


def _material(wire: Table, other: Table | None = None) -> str:
    """Return alloy and section: "beta-titanium 0.019 x 0.025 in"; without the alloy if `other` is of the same."""
    alike = other is not None and all(wire.get(k) == other.get(k) for k in ("alloy", "young"))
    words = [] if alike else [str(wire["alloy"])]
    if wire["section"] == "round":
        words.append(f"{wire['diameter']} round")
    else:
        height, depth = str(wire["height"]), str(wire["depth"])
        unit = depth.partition(" ")[2]
        words.append(f"{height.removesuffix(f' {unit}') if unit else height} x {depth}")
    if "bevel" in wire:
        words.append(f"with edges rounded by {wire['bevel']}")
    if "young" in wire and not alike:
        words.append(f"with a Young's modulus of {wire['young']}")
    return " ".join(words)


def _phrases(fresh: Table, after: Table) -> Iterator[tuple[str, str]]:
    """Yield for each theme of `fresh` how to say there is none any more, and what is there now ("" for none)."""
    yield from _form(fresh, after)
    for key, name in _BENDS.items():
        if key in fresh:
            yield f"without any {name}", _bends(name, fresh[key])
    for key, (without, say) in _SINGLE.items():
        if key in fresh:
            yield without, say(fresh[key])


def _form(fresh: Table, after: Table) -> Iterator[tuple[str, str]]:
    """Yield what is said of the shape of a wire, its place and its ends."""
    if any(key in fresh for key in _SHAPE):
        yield "", _shape(after)
    if "widen" in fresh:
        yield "no longer widened", _widened(fresh["widen"])
    places = (("out", "buccal", "lingual", ("buccal", "labial")), ("gingival", "gingival", "occlusal", ()))
    for key, plus, minus, same in places:
        if key in fresh:
            yield f"no longer {plus} of the bracket line", _placed(str(fresh[key]), plus, minus, same)
    if any(key in fresh for key in _SPAN):
        yield "", " ".join(["running", *(f"{key} {after[key]}" for key in _SPAN if key in after)])


def _shape(wire: Table) -> str:
    shape = wire.get("shape", "bracket line")
    if shape == "bracket line":
        return "shaped like the bracket line"
    if shape == "points":
        return f"shaped through {len(wire['points'])} points of its own"
    if shape == "straight":
        return "straight"
    return f"shaped as a {shape} arch {wire['form_width']} wide and {wire['form_depth']} deep"


def _widened(widen: Table | None) -> str:
    if not widen:
        return ""
    # the usual profile goes without saying
    profile = f" (profile: {widen['profile']})" if widen.get("profile", "proportional") != "proportional" else ""
    if "each_side" in widen:
        sides, unit = [_tidy(widen["each_side"])], " a side"
    else:
        sides, unit = [f"{_tidy(widen[side])} {side}" for side in ("left", "right") if side in widen], ""
    if all(_zero(side) for side in sides):
        return ""
    if all(side.strip().startswith("-") or _zero(side) for side in sides):
        sides = [side.strip().removeprefix("-") for side in sides]
        return f"narrowed to {', '.join(sides)}{unit}{profile}"
    return f"widened to {', '.join(sides)}{unit}{profile}"


def _opened(opening: Table | None) -> str:
    if not opening:
        return ""
    side = str(opening["each_side"]).strip()
    way = f"closed by {side.removeprefix('-')}" if side.startswith("-") else f"opened by {side}"
    relieved = ", then stress-relieved" if opening.get("relieved") else ""
    return f"{way} a side by hand before it is tied in ({opening['by']}{relieved})"


def _placed(text: str, plus: str, minus: str, same: Sequence[str]) -> str:
    """Return where a wire lies off the bracket line; words of the text itself give the way where it has some."""
    if _zero(text):
        return ""
    number, _, rest = text.strip().partition(" ")
    unit, _, word = rest.partition(" ")
    way = plus if not word or word in same else minus
    if number.startswith("-"):
        number, way = number[1:], minus if way == plus else plus
    return f"{number} {unit} {way} of the bracket line"


def _bends(name: str, table: Table | None) -> str:
    """Return bends by tooth, teeth of one value together: "with torque 9 deg buccal root at 16, 26"."""
    if not table:
        return ""
    by: dict[str, list[str]] = {}
    for tooth, value in table.items():
        by.setdefault(_tidy(value), []).append(str(tooth))
    texts = [f"{'none' if _zero(value) else value} at {teeth_list(teeth)}" for value, teeth in by.items()]
    return f"with {name} {', '.join(texts)}"


def _progressive(table: Table | None) -> str:
    if not table:
        return ""
    start = table.get("start", "0 deg")
    return f"with torque growing from {start} at {table['from']} to {table['end']} at {table['to']}"


def _v_bend(bend: Table) -> str:
    one, other = bend["between"]
    share = f"{100 * float(bend['at']):.3g} %"
    return f"with a V bend of {bend['angle']} between {one} and {other}, {share} of the way, its tip {bend['apex']}"


def _tidy(text: Any) -> str:
    """Return a quantity with at most four figures of its number: sums made on the way have sixteen."""
    number, space, rest = str(text).strip().partition(" ")
    try:
        return f"{float(number):.4g}{space}{rest}"
    except ValueError:
        return str(text)


_SINGLE: dict[str, tuple[str, Callable[[Any], str]]] = {
    "ends": ("", lambda v: f"reaching {v} beyond its last holds"),
    "progressive_torque": ("without progressive torque", _progressive),
    "v_bend": ("without V bends", lambda v: ", ".join(_v_bend(bend) for bend in _listed(v))),
    "opening": ("not opened by hand", _opened),
    "temperature": ("", lambda v: f"at {v}"),
    "hold": ("", lambda v: ", ".join(held(hold) for hold in _listed(v))),
    "piece": ("", lambda v: f"another one of its kind (piece {v})"),
    "elements_per_span": ("", lambda v: f"computed with {v} elements a span"),
}
"""Keys that stand for themselves: how to say there is none any more, and what is there."""


def _zero(text: str) -> bool:
    try:
        return float(text.strip().partition(" ")[0]) == 0.0
    except ValueError:
        return False


def _listed(value: Any) -> list[Any]:
    """Return a list of tables or pairs; one alone may stand without its list."""
    if isinstance(value, Mapping):
        return [value]
    items = list(value or ())
    return [items] if items and not isinstance(items[0], Mapping | list | tuple) else items
