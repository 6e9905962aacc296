"""Courses of several variants, each in a process of its own when there are cores for it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

from biomech.errors import BiomechError, FileError, InputError, SolveError
from biomech.scenario import Scenario
from biomech.studies.course import rehearse, run_course
from biomech.studies.curves import Curves, curves
from biomech.studies.record import fingerprint
from biomech.studies.variants import Variant

Progress = Callable[[str, float], None]
GRACE = 5.0
"""Seconds a process is given to leave nothing half-written when it is told to stop."""


def run_all(
    variants: Sequence[Variant], *, jobs: int = 1, folder: Path | str | None = None, progress: Progress | None = None
) -> list[Curves]:
    """Return the courses of `variants`, in order; the numbers are the same however many `jobs` share the work.

    With `jobs` of 2 or more each course has a process of its own, so many at a time; a program that calls this must
    then be importable (`if __name__ == "__main__":`), as for all processes of Python. With `folder`, finished stretches
    are kept in a folder a variant there, and courses go on from them. Raises InputError and SolveError as `run_course`,
    FileError when a folder cannot be written to; the variant's label stands in front.
    """
    if jobs < 1:
        raise InputError(f"jobs = {jobs}: must be at least 1")
    for variant in variants:
        with named(variant.label):
            if variant.scenario.course is None:
                raise InputError("the scenario has no [course]: give at least its duration")
            rehearse(variant.scenario, variant.scenario.course)
    stores = [None if folder is None else store_of(Path(folder), v) for v in variants]
    tell = _Teller([v.label for v in variants], progress)
    if jobs == 1 or len(variants) == 1:
        return [_here(v, store, i, tell) for i, (v, store) in enumerate(zip(variants, stores, strict=True))]
    return _Pool(variants, stores, tell).run(min(jobs, len(variants)))


def cores() -> int:
    """Return how many cores this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def store_of(folder: Path, variant: Variant) -> Path:
    """Return the folder of a variant's finished stretches: found again under any label, whatever else is compared."""
    return folder / fingerprint(variant.scenario)[:16]


@contextmanager
def named(label: str) -> Iterator[None]:
    """Put a variant's label in front of the errors raised inside."""
    try:
        yield
    except (InputError, SolveError, FileError) as error:
        raise type(error)("\n".join(f"{label}: {line}" for line in str(error).splitlines())) from None


def _here(variant: Variant, store: Path | None, i: int, tell: _Teller) -> Curves:
    with named(variant.label):
        found = curves(run_course(variant.scenario, folder=store, progress=lambda what, share: tell(i, what, share)))
    tell.done(i)
    return found


class _Teller:
    """Turns the progress of each course into one line and one share of all."""

    def __init__(self, labels: Sequence[str], progress: Progress | None) -> None:
        self.labels, self.progress = labels, progress
        self.shares = [0.0] * len(labels)
        self.words: dict[int, str] = {}

    def __call__(self, i: int, what: str, share: float) -> None:
        self.words[i], self.shares[i] = what, share
        self._say()

    def done(self, i: int) -> None:
        """Tell that the course of one variant is finished."""
        self.words.pop(i, None)
        self.shares[i] = 1.0
        self._say()

    def _say(self) -> None:
        if self.progress is not None:
            running = ", ".join(f"{self.labels[i]}: {what}" for i, what in sorted(self.words.items()))
            self.progress(running or "courses finished", sum(self.shares) / len(self.shares))


@dataclass
class _Task:
    """A course that runs in a process: the variant's place, the process, and what it says through."""

    i: int
    process: SpawnProcess
    pipe: Connection


class _Pool:
    """Runs courses in processes, one for each; stops all when one fails or the user interrupts."""

    def __init__(self, variants: Sequence[Variant], stores: Sequence[Path | None], tell: _Teller) -> None:
        self.variants, self.stores, self.tell = variants, stores, tell
        # spawned, not forked: threads of a parent (progress, linear algebra) do not survive a fork
        self.context = multiprocessing.get_context("spawn")
        self.found: dict[int, Curves] = {}

    def run(self, jobs: int) -> list[Curves]:
        waiting = list(range(len(self.variants)))
        running: dict[Connection, _Task] = {}
        try:
            while waiting or running:
                while waiting and len(running) < jobs:
                    task = self._start(waiting.pop(0))
                    running[task.pipe] = task
                for pipe in wait(list(running)):
                    assert isinstance(pipe, Connection)
                    if self._heard(running[pipe]):
                        task = running.pop(pipe)
                        task.pipe.close()
                        task.process.join()
        finally:
            _stop(list(running.values()))
        return [self.found[i] for i in range(len(self.variants))]

    def _start(self, i: int) -> _Task:
        receive, send = self.context.Pipe(duplex=False)
        arguments = (send, self.variants[i].scenario.document, self.stores[i])
        process = self.context.Process(target=_there, args=arguments, daemon=True)
        process.start()
        send.close()  # the only other end is the process's: when it dies, the pipe ends
        return _Task(i, process, receive)

    def _heard(self, task: _Task) -> bool:
        """Take one message of a process; return whether it was the last."""
        label = self.variants[task.i].label
        try:
            word, *rest = task.pipe.recv()
        except EOFError:
            task.process.join()
            raise SolveError(
                f"{label}: its process ended without a result (exit status {task.process.exitcode}). A negative status "
                "is the signal that killed it, often because memory ran out: try fewer jobs. A positive one may mean "
                "that the calling program cannot be imported by its processes"
            ) from None
        if word == "at":
            self.tell(task.i, *rest)
            return False
        if word == "failed":
            kind, text = rest
            with named(label):
                raise kind(text)
        if word == "crashed":
            raise RuntimeError(f"{label}: the program failed in its own process:\n{rest[0]}")
        self.found[task.i] = rest[0]
        self.tell.done(task.i)
        return True


def _stop(tasks: Sequence[_Task]) -> None:
    """End processes: ask, wait a little, then force."""
    for task in tasks:
        task.pipe.close()
        task.process.terminate()
    for task in tasks:
        task.process.join(GRACE)
        if task.process.is_alive():
            task.process.kill()
            task.process.join()


def _there(pipe: Connection, document: Mapping[str, Any], store: Path | None) -> None:
    """Run one course in a process of its own; tell through `pipe` how far it is and what came of it."""
    # Ctrl-C reaches all processes of a terminal: the parent alone answers it, and tells the others with a signal that
    # leaves through the usual exits, so that nothing half-written is left
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    with suppress(BrokenPipeError):  # the parent is gone, and nobody wants the result
        try:
            found = run_course(
                Scenario.parse(document), folder=store, progress=lambda *at: pipe.send(("at", *at)), fits=True
            )
            pipe.send(("done", curves(found)))
        except BiomechError as error:
            pipe.send(("failed", type(error), str(error)))
        except BrokenPipeError:
            raise
        except Exception:
            pipe.send(("crashed", traceback.format_exc()))
