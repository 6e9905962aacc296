"""Pictures drawn by several processes: all of them, in order, the same as by one; and what is said when one is lost."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from biomech.render import _crew
from biomech.render._crew import drawn
from biomech.render.probe import DrawError


@dataclass(frozen=True)
class Numbers:
    """A film without graphics: every pixel tells the moment; some moments take longer, some go wrong."""

    size: tuple[int, int] = (5, 4)
    slow: frozenset[float] = frozenset()
    broken: frozenset[float] = frozenset()
    deadly: frozenset[float] = frozenset()
    opened: list[str] = field(default_factory=list)

    def painter(self, stack):
        self.opened.append("opened")
        stack.callback(self.opened.append, "closed")
        print("a library prints what it likes")

        def picture(moment):
            if moment in self.slow:
                time.sleep(0.05)
            if moment in self.broken:
                raise ValueError(f"no picture of {moment:g}")
            if moment in self.deadly:
                os.kill(os.getpid(), signal.SIGKILL)
            return np.full((self.size[1], self.size[0], 3), int(moment) % 256, np.uint8)

        return picture


def told(frames):
    return [int(frame[0, 0, 0]) for frame in frames]


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(0, 255), max_size=30), st.integers(1, 3), st.sets(st.integers(0, 255), max_size=9))
def test_all_pictures_in_order_however_many_draw(moments, processes, slow):
    film = Numbers(slow=frozenset(map(float, slow)))
    frames = list(drawn(film, [float(m) for m in moments], processes))
    assert told(frames) == moments
    assert all(f.shape == (4, 5, 3) and f.dtype == np.uint8 for f in frames)


def test_here_what_is_opened_is_closed():
    film = Numbers()
    frames = drawn(film, [1.0, 2.0, 3.0])
    next(frames)
    frames.close()
    assert film.opened == ["opened", "closed"]


def test_a_failure_is_told_with_its_cause():
    film = Numbers(broken=frozenset({3.0}))
    for processes in (1, 2):
        frames = drawn(film, [float(k) for k in range(9)], processes)
        assert told(next(frames) for _ in range(3)) == [0, 1, 2]
        with pytest.raises((ValueError, RuntimeError), match="no picture of 3"):
            next(frames)


def counted(monkeypatch):
    """Keep the processes that are started from now on."""
    started, plain = [], subprocess.Popen

    def popen(*args, **options):
        started.append(plain(*args, **options))
        return started[-1]

    monkeypatch.setattr(_crew.subprocess, "Popen", popen)
    return started


@pytest.mark.skipif(sys.platform == "win32", reason="no signals")
def test_a_killed_process_is_told_and_none_is_left(monkeypatch):
    started = counted(monkeypatch)
    with pytest.raises(DrawError, match=r"exit status -9.*memory"):
        list(drawn(Numbers(deadly=frozenset({5.0})), [float(k) for k in range(40)], 2))
    assert len(started) == 2 and all(p.returncode is not None for p in started)


def test_nobody_goes_on_drawing_for_a_film_that_is_given_up(monkeypatch):
    started = counted(monkeypatch)
    frames = drawn(Numbers(), [float(k) for k in range(200)], 3)
    assert told([next(frames)]) == [0]
    frames.close()
    assert len(started) == 3 and all(p.returncode is not None for p in started)


def test_not_more_processes_than_pictures(monkeypatch):
    started = counted(monkeypatch)
    assert told(drawn(Numbers(), [7.0, 8.0], 5)) == [7, 8] and len(started) == 2


def test_a_script_needs_no_guard(tmp_path):
    """The processes do not run the program that asked for them."""
    script = tmp_path / "script.py"
    script.write_text(
        "print('once')\nfrom test_crew import Numbers, told\nfrom biomech.render._crew import drawn\n"
        "print(told(drawn(Numbers(), [1.0, 2.0, 3.0], 2)))\n"
    )
    path = os.pathsep.join([str(Path(__file__).parent), *filter(None, sys.path)])
    run = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=True,
                         env={**os.environ, "PYTHONPATH": path})  # fmt: skip
    assert run.stdout == "once\n[1, 2, 3]\n"
