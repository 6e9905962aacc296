"""Progress on standard error, once something takes longer than a second."""

from __future__ import annotations

import sys
import threading
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from rich.progress import Progress as Bar

PATIENCE = 1.0
"""Seconds of silence before progress is shown."""


class Progress(AbstractContextManager["Progress"]):
    """Say what is going on: a bar on a terminal, one plain line otherwise; nothing when `quiet` or fast."""

    def __init__(self, *, quiet: bool = False) -> None:
        self._quiet = quiet
        self._what, self._share = "", 0.0
        self._bar: Bar | None = None
        self._lock = threading.Lock()
        self._timer = threading.Timer(PATIENCE, self._show)
        self._timer.daemon = True

    def __enter__(self) -> Self:
        if not self._quiet:
            self._timer.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._timer.cancel()
        with self._lock:
            self._quiet = True
            if self._bar is not None:
                self._bar.stop()

    def say(self, what: str, share: float = 0.0) -> None:
        """Tell what is being done and how much of it is, 0 to 1 (0 when unknown)."""
        with self._lock:
            self._what, self._share = what, share
            if self._bar is not None:
                self._bar.update(self._bar.task_ids[0], description=what, total=1 if share else None, completed=share)

    def _show(self) -> None:
        """Begin to show progress (called by the timer, in its own thread)."""
        with self._lock:
            if self._quiet:
                return
            if not sys.stderr.isatty():
                print(f"biomech: {self._what} ...", file=sys.stderr, flush=True)
                return
            self._bar = _bar()
            self._bar.add_task(self._what, total=1 if self._share else None)
            self._bar.start()


def _bar() -> Bar:
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn())
    return Progress(*columns, console=Console(stderr=True), transient=True)
