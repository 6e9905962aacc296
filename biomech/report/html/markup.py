"""Text of the page: elements with everything escaped, and numbers as people read them."""

from __future__ import annotations

from html import escape
from typing import Any

_VOID = {"br", "col", "hr", "input", "meta"}
DASH = "–"
"""Stands where a quantity does not exist."""


class Raw(str):
    """Text that is HTML already and is not escaped again."""

    __slots__ = ()


def tag(name: str, /, *children: object, **attributes: object) -> Raw:
    """Return an element; children that are not Raw are escaped, None is left out.

    Attributes: a trailing underscore is dropped (`class_`), others become hyphens; True stands for a bare attribute,
    False and None leave it out.
    """
    parts = [f"<{name}"]
    for key, value in attributes.items():
        if value is None or value is False:
            continue
        shown = key.rstrip("_").replace("_", "-")
        parts.append(f" {shown}" if value is True else f' {shown}="{escape(str(value), quote=True)}"')
    parts.append(">")
    if name in _VOID:
        return Raw("".join(parts))
    return Raw("".join([*parts, join(*children), f"</{name}>"]))


def join(*children: object) -> Raw:
    """Return children one after the other as HTML."""
    return Raw("".join(c if isinstance(c, Raw) else escape(str(c)) for c in children if c is not None))


def number(value: Any, digits: int = 3) -> str:
    """Return a number with a true minus sign, a text as it is, and a dash for None."""
    if value is None:
        return DASH
    if isinstance(value, str):
        return value
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = f"{0.0:.{digits}f}"
    return text.replace("-", "\u2212")


def brief(value: Any) -> str:
    """Return a number to four figures, for values of any size."""
    if value is None:
        return DASH
    return f"{value:.4g}".replace("-", "\u2212") if isinstance(value, (int, float)) else str(value)


def items(lines: list[Any], **attributes: object) -> Raw:
    """Return a bullet list."""
    return tag("ul", *(tag("li", line) for line in lines), **attributes)


def table(
    caption: object,
    head: list[list[tuple[str, int]]],
    rows: list[list[object]],
    *,
    words: tuple[int, ...] = (),
    id_: str | None = None,
) -> Raw:
    """Return a table: `head` rows of (text, columns spanned), first column as row heads, `words` columns of text."""
    heads = [
        tag("tr", *(_head(text, span, words if k == len(head) - 1 else (), i) for i, (text, span) in enumerate(row)))
        for k, row in enumerate(head)
    ]  # fmt: skip
    body = [
        tag("tr", tag("th", row[0], scope="row"),
            *(tag("td", cell, class_="words" if i in words else None) for i, cell in enumerate(row[1:], 1)))
        for row in rows
    ]  # fmt: skip
    whole = tag("table", tag("caption", caption), tag("thead", *heads), tag("tbody", *body), id=id_)
    return tag("div", whole, class_="wide")


def _head(text: str, span: int, words: tuple[int, ...], column: int) -> Raw:
    """Return a column head, over the left edge of texts and the right edge of numbers."""
    if span > 1:
        return tag("th", text, scope="colgroup", colspan=span)
    if not text:
        return tag("td")
    return tag("th", text, scope="col", class_="words" if column == 0 or column in words else None)
