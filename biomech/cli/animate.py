"""`biomech animate`: a film of teeth under different loads, or of courses of treatment, side by side."""

from __future__ import annotations

import multiprocessing
import re
import signal
from collections.abc import Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor, wait
from pathlib import Path
from typing import TYPE_CHECKING

import click

from biomech.cli.course import KEPT, rehearsed
from biomech.cli.progress import Progress
from biomech.cli.sections import tooth_named
from biomech.cli.solving import read
from biomech.errors import InputError

if TYPE_CHECKING:
    from biomech.render.animate import CourseData
    from biomech.render.probe import Drawing
    from biomech.scenario import Scenario


def run(
    files: Sequence[Path], out: Path, tooth: str | None, frames: int, size: str, magnify: float | None, *, quiet: bool
) -> None:
    """Solve the scenarios or run their courses, and write the film. What can be refused is refused before that."""
    from biomech.render._beside import ready_folder
    from biomech.render._film import check_film

    measures = pixels(size)
    check_film(out, frames, measures)
    with ThreadPoolExecutor(1) as aside, Progress(quiet=quiet) as progress:
        progress.say(f"reading {', '.join(map(str, files))}")
        scenarios, drawable = _read(files, aside)
        number = _number(tooth, scenarios, files)
        courses = [scenario.course is not None for scenario in scenarios]
        if any(courses) and not all(courses):
            without = ", ".join(str(f) for f, has in zip(files, courses, strict=True) if not has)
            raise InputError(f"{without}: no [course]; animate courses with courses, single moments with each other")
        ready_folder(out.parent)
        if all(courses):
            for scenario, file in zip(scenarios, files, strict=True):
                rehearsed(scenario, file)
            wait([drawable] if drawable else [])
            _courses(files, out, number, frames, measures, magnify, progress)
        else:
            _moments(scenarios, out, number, frames, measures, magnify, progress)
    if not quiet:
        print(f"Written: {out}")


def _read(files: Sequence[Path], aside: Executor) -> tuple[list[Scenario], Future[Drawing] | None]:
    """Return the scenarios, and of courses what is being found out meanwhile: whether they can be drawn here.

    That takes half a second in another process.
    """
    scenarios: list[Scenario] = []
    drawable = None
    for file in files:
        scenarios.append(read(file))
        if scenarios[-1].course is not None and drawable is None:
            from biomech.render.probe import drawing

            drawable = aside.submit(drawing)
    return scenarios, drawable


def pixels(size: str) -> tuple[int, int]:
    """Return width and height of "800x600"."""
    found = re.fullmatch(r"\s*(\d{1,5})\s*[xX×]\s*(\d{1,5})\s*", size)
    if found is None:
        raise InputError(f'--size "{size}": write WIDTHxHEIGHT, such as 800x600')
    return int(found[1]), int(found[2])


def _number(tooth: str | None, scenarios: Sequence[Scenario], files: Sequence[Path]) -> int | None:
    """Return the tooth of --tooth, which every scenario must have."""
    if tooth is None:
        return None
    named = [tooth_named(tooth, "--tooth", *pair) for pair in zip(scenarios, files, strict=True)]
    return named[0]


def _moments(
    scenarios: Sequence[Scenario], out: Path, tooth: int | None, frames: int, size: tuple[int, int],
    magnify: float | None, progress: Progress,
) -> None:  # fmt: skip
    from biomech.render.animate import animate_sections, check_sections
    from biomech.studies import solve

    check_sections(len(scenarios), magnify)
    progress.say("solving")
    solutions = [solve(scenario, progress=progress.say) for scenario in scenarios]
    animate_sections(solutions, out, tooth=tooth, frames=frames, size=size, magnify=magnify, progress=progress.say)


def _courses(
    files: Sequence[Path], out: Path, tooth: int | None, frames: int, size: tuple[int, int],
    magnify: float | None, progress: Progress,
) -> None:  # fmt: skip
    from biomech.render.animate import animate_courses, check_courses

    check_courses(len(files), magnify)
    progress.say(f"running {len(files)} courses" if len(files) > 1 else "running the course")
    datas = _run_all(files)
    animate_courses(datas, out, tooth=tooth, frames=frames, size=size, magnify=magnify, progress=progress.say)


def _run_all(files: Sequence[Path]) -> list[CourseData]:
    """Run the courses, as many at a time as there are cores that may be used."""
    from biomech.render._crew import cores

    names = [file.stem for file in files]
    stores = [Path("out") / n / KEPT if names.count(n) == 1 else None for n in names]  # one folder, one writer
    processes = min(len(files), cores())
    if processes == 1:
        return [_run_one(file, store) for file, store in zip(files, stores, strict=True)]
    with multiprocessing.get_context("spawn").Pool(processes, _uninterrupted) as pool:
        return pool.starmap_async(_run_one, list(zip(files, stores, strict=True)), chunksize=1).get()


def _uninterrupted() -> None:
    """Leave Ctrl-C to the parent, which ends this process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _run_one(file: Path, store: Path | None) -> CourseData:
    """Run one course, whose visits were rehearsed, going on from what is kept of an earlier run in `store`."""
    from biomech.render.animate import course_data
    from biomech.studies.course import run_course

    try:
        return course_data(run_course(read(file), folder=store, fits=True))
    except InputError as error:
        lines = str(error).splitlines()
        raise InputError("\n".join(s if s.startswith(str(file)) else f"{file}: {s}" for s in lines)) from None


@click.command(short_help="A film: teeth under different loads, or courses, side by side.")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE...")
@click.option("--tooth", metavar="NUMBER",
              help="Tooth to look at.  [default: that which moves most, of several scenarios most differently; "
              "for courses the first molars]")  # fmt: skip
@click.option("--out", metavar="FILE.mp4|.gif", type=click.Path(path_type=Path),
              help="Where to write the film.  [default: out/animate-<name of the first FILE>.mp4]")  # fmt: skip
@click.option("--frames", type=int, default=120, show_default=True, help="Number of frames, 15 a second.")
@click.option("--size", metavar="WxH", default="800x600", show_default=True, help="Size in pixels.")
@click.option("--magnify", type=float, metavar="FACTOR",
              help="What movements are multiplied with.  [default: a round factor, stated in the film]")  # fmt: skip
@click.option("--quiet", is_flag=True, help="No progress; errors only.")
def animate(
    files: tuple[Path, ...], tooth: str | None, out: Path | None, frames: int, size: str, magnify: float | None,
    quiet: bool,
) -> None:  # fmt: skip
    """Film scenario FILEs side by side.

    Scenarios without a course: one tooth of each in section, from rest to where it is solved and back, at most four,
    all to one scale of movement, force and moment.
    Scenarios with a course: the arch and two fellow teeth over the months, visit by visit, at most three; what is
    finished between visits is kept in out/<name of FILE>/legs, as by `biomech course`.
    """
    run(files, out or Path("out") / f"animate-{files[0].stem}.mp4", tooth, frames, size, magnify, quiet=quiet)
