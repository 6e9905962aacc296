"""Pictures of a film drawn by several processes at a time, in order.

The processes are plain children that are told what to draw through their standard input. They do not run the calling
program again, as those of `multiprocessing` do, so a script that makes a film needs no guard.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import traceback
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, suppress
from queue import SimpleQueue
from typing import IO, Protocol, cast

from biomech.render._sheet import Frame
from biomech.render.probe import DrawError

_CHILD = (
    "import pickle, sys; sys.path[:] = pickle.load(sys.stdin.buffer); "
    "from biomech.render._crew import serve; serve(sys.stdin.buffer)"
)
_AHEAD = 2  # pictures for each process that may be drawn before they are asked for


class Film(Protocol):
    """What every process must be able to draw, sent to it by pickle."""

    def painter(self, stack: ExitStack) -> Callable[[float], Frame]:
        """Return a function that draws the picture (height, width, 3) of a moment; `stack` closes what it opens."""


def cores() -> int:
    """Return how many cores this process may use, which can be fewer than there are."""
    return len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1


def drawn(film: Film, moments: Sequence[float], processes: int = 1) -> Iterator[Frame]:
    """Yield the pictures of `moments` in their order, the same however many `processes` draw them.

    With one they are drawn here. Raises DrawError when a process ends before its work.
    """
    processes = min(processes, len(moments))
    if processes > 1 and sys.executable:
        yield from _shared(film, moments, processes)
        return
    with ExitStack() as stack:
        yield from map(film.painter(stack), moments)


def _shared(film: Film, moments: Sequence[float], processes: int) -> Iterator[Frame]:
    words = pickle.dumps(sys.path) + pickle.dumps(film)
    idle: SimpleQueue[_Hand] = SimpleQueue()
    hands: list[_Hand] = []

    def one(moment: float) -> Frame:
        hand = idle.get()  # one for every thread
        try:
            return hand.draw(moment)
        finally:
            idle.put(hand)

    threads = ThreadPoolExecutor(processes)
    try:
        for _ in range(processes):
            hands.append(_Hand(words))
            idle.put(hands[-1])
        asked: deque[Future[Frame]] = deque()
        for moment in moments:
            asked.append(threads.submit(one, moment))
            if len(asked) > _AHEAD * processes:
                yield asked.popleft().result()
        while asked:
            yield asked.popleft().result()
    finally:
        for hand in hands:
            hand.end()
        threads.shutdown(cancel_futures=True)


class _Hand:
    """A process that draws; `words` is what it must be told first."""

    def __init__(self, words: bytes) -> None:
        self._words = words
        # out of the terminal's reach: Ctrl-C is for the parent, which ends this process
        self._process = subprocess.Popen(
            [sys.executable, "-c", _CHILD], stdin=subprocess.PIPE, stdout=subprocess.PIPE, start_new_session=True
        )

    def draw(self, moment: float) -> Frame:
        """Return the picture of a moment."""
        ears, mouth = cast(IO[bytes], self._process.stdin), cast(IO[bytes], self._process.stdout)
        try:
            ears.write(self._words + pickle.dumps(moment))
            ears.flush()
            self._words = b""
            frame, failure = pickle.load(mouth)
        except (EOFError, OSError, pickle.UnpicklingError):
            raise DrawError(
                f"a process that draws ended without its picture (exit status {self._process.wait()}). A negative "
                "status is the signal that killed it, often because memory ran out"
            ) from None
        if failure:
            raise RuntimeError(f"the program failed in a process that draws:\n{failure}")
        return cast(Frame, frame)

    def end(self) -> None:
        """End the process, whatever it does; it holds nothing that must be kept."""
        self._process.kill()
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            with suppress(OSError):  # words that were never taken
                cast(IO[bytes], pipe).close()


def serve(ears: IO[bytes]) -> None:
    """Draw what is asked for through `ears` until they are closed: a film, then moments. Pictures go to the output."""
    mouth = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints must not get between the pictures
    with suppress(BrokenPipeError):  # the parent is gone, and nobody wants the rest
        try:
            with ExitStack() as stack:
                draw = pickle.load(ears).painter(stack)
                for moment in iter(lambda: _next(ears), None):
                    _say(mouth, draw(moment), "")
        except BrokenPipeError:
            raise
        except Exception:
            _say(mouth, None, traceback.format_exc())


def _next(ears: IO[bytes]) -> float | None:
    try:
        return float(pickle.load(ears))
    except EOFError:
        return None


def _say(mouth: IO[bytes], frame: Frame | None, failure: str) -> None:
    pickle.dump((frame, failure), mouth, protocol=5)
    mouth.flush()
