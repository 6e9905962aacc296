"""One of several sheets, chosen by keyboard or pointer; without any script, and on paper the one chosen."""

from __future__ import annotations

from collections.abc import Sequence

from biomech.report.html.markup import Raw, tag

MOST = 16
"""Sheets that the style sheet can tell apart: the teeth of one jaw."""


def pick(name: str, legend: str, sheets: Sequence[tuple[str, Raw]], chosen: int = 0) -> Raw:
    """Return a group of choices with the sheet of the one chosen below it.

    `sheets` are label and content, at most MOST; `name` is the group's own in the page, `chosen` the first choice.
    """
    if len(sheets) > MOST:
        raise ValueError(f"{len(sheets)} sheets; the style sheet knows {MOST}")
    if len(sheets) == 1:
        return tag("div", sheets[0][1], class_="sheet only")
    choices: list[Raw] = []
    for i, (label, _) in enumerate(sheets):
        key = f"{name}-{i}"
        choices.append(tag("input", type="radio", name=name, id=key, checked=i == chosen, autocomplete="off"))
        choices.append(tag("label", label, for_=key))
    return tag(
        "fieldset", tag("legend", legend), *choices, *(tag("div", content, class_="sheet") for _, content in sheets),
        class_="pick",
    )  # fmt: skip
