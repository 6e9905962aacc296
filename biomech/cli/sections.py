"""`--section`: pictures of teeth in section, of one moment, or of a course as its visits leave it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from biomech.errors import InputError

if TYPE_CHECKING:
    from biomech.scenario import Scenario
    from biomech.studies import Solution
    from biomech.studies.course import Course

Command = TypeVar("Command", bound=Callable[..., Any])


def section_option(when: str) -> Callable[[Command], Command]:
    """Return the option; `when` says of which moments."""
    return click.option(
        "--section", "sections", multiple=True, metavar="NUMBER",
        help=f"Also draw this tooth in buccolingual section{when}: movement, centres of resistance and rotation, force "
        "and moment at the bracket and moved to the centre of resistance, ligament pressure. May be repeated.",
    )  # fmt: skip


def tooth_named(text: str, option: str, scenario: Scenario, file: Path) -> int:
    """Return the tooth of an option, which the scenario must have."""
    from biomech.scenario.quantities import read_tooth

    try:
        number: int = read_tooth(text.strip())
    except InputError as error:
        raise InputError(f'{option} "{text}": {error}') from None
    if number not in scenario.arch.teeth:
        present = ", ".join(str(n) for n in scenario.arch.teeth)
        raise InputError(f"{option} {number}: not in the arch of {file}; present: {present}")
    return number


def teeth_asked(texts: Sequence[str], scenario: Scenario, file: Path, *, pictures: bool) -> list[int]:
    """Return the teeth to draw in section, each once."""
    if texts and not pictures:
        raise InputError("--section asks for a picture and --no-pictures for none; give one of them")
    return list(dict.fromkeys(tooth_named(text, "--section", scenario, file) for text in texts))


def draw_sections(solution: Solution, numbers: Sequence[int], folder: Path) -> list[Path]:
    """Draw teeth in section, all to the same scales; return the paths."""
    from biomech.render.section import section_scales, tooth_section
    from biomech.studies.leftovers import SOLVED

    written = []
    if numbers:
        scales = section_scales([(solution, n) for n in numbers])
        for n in numbers:
            path = folder / f"section-{n}.png"
            written.append(tooth_section(solution, n, path, scales=scales, source=SOLVED))
    return written


def draw_course_sections(course: Course, numbers: Sequence[int], folder: Path) -> list[Path]:
    """Draw teeth in section at the start, as every visit with an action left them, and at the end; as draw_sections."""
    from biomech.render.section import section_scales, tooth_section
    from biomech.studies.leftovers import COURSE

    written = []
    if numbers:
        shown = [(day, label, course.solution_at(i)) for i, day, label in _moments(course)]
        scales = section_scales([(solution, n) for n in numbers for _, _, solution in shown])
        for n in numbers:
            for day, label, solution in shown:
                path = folder / f"section-{n}-day-{day:g}.png"
                written.append(tooth_section(solution, n, path, scales=scales, when=label, source=COURSE))
    return written


def _moments(course: Course) -> Iterator[tuple[int, float, str]]:
    """Yield number, day (each once) and label of the moments drawn."""
    from biomech.report.moments import moments

    days = set()
    for shown in moments(course):
        if shown.label.endswith("found") or shown.day in days:
            continue
        days.add(shown.day)
        label = shown.label.removesuffix(", left")
        yield shown.i, shown.day, label if label == shown.label else f"as left at {label}"
