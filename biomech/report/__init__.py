"""Tables for the terminal, in anatomical words. Readable at 100 columns and when piped into a file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from biomech.report.words import WIDTH

if TYPE_CHECKING:
    from rich.console import Console

    from biomech.studies import Solution

__all__ = ["WIDTH", "print_solution", "terminal"]


def terminal(*, error: bool = False) -> Console:
    """Return a console on standard output (or error): the terminal's width, WIDTH columns when it is none."""
    from rich.console import Console

    console = Console(stderr=error, markup=False, highlight=False, emoji=False)
    if not console.is_terminal:
        console.width = WIDTH
    return console


def print_solution(solution: Solution, data: Mapping[str, Any], console: Console) -> None:
    """Print the report of a solution; `data` is its record."""
    from biomech.report import summary
    from biomech.report.teeth import tooth_tables
    from biomech.report.wires import wire_tables

    title, *rest = summary.heading(solution)
    console.print(title, style="bold")
    for line in [*rest, ""]:
        console.print(line)
    for found in (*tooth_tables(solution), *wire_tables(solution), summary.arch_table(solution)):
        if found is not None:
            console.print(found)
            console.print()
    list_lines(console, "", summary.arch_lines(solution))
    list_lines(console, "Can it be trusted", summary.trust_lines(solution, data))
    list_lines(console, "Warnings", data["warnings"] or ["none"])
    marked = list(summary.expectation_lines(data["expectations"]))
    list_marked(console, "What the scenario expects", marked)
    list_lines(console, "Where values come from", summary.source_lines(solution, data))
    console.print(data["caution"], style="italic")


def list_lines(console: Console, title: str, lines: Iterable[str]) -> None:
    """Print a list under a title (which may be empty); nothing for an empty list."""
    list_marked(console, title, [("-", line) for line in lines])


def list_marked(console: Console, title: str, lines: Iterable[tuple[str, str]]) -> None:
    """Print a list whose texts wrap beside their marks."""
    from rich.table import Table

    grid = Table.grid(padding=(0, 1))
    for mark, text in lines:
        grid.add_row(mark, text, style="bold" if mark.isupper() else "")
    if grid.row_count:
        if title:
            console.print(title, style="bold")
        console.print(grid)
        console.print()
