"""Whether this machine can draw off-screen.

Without a graphics library VTK ends the process with a segmentation fault instead of an exception, so the question is
put to a child process, once.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from functools import cache

from biomech.errors import BiomechError

VARIABLE = "VTK_DEFAULT_OPENGL_WINDOW"
"""Environment variable by which VTK chooses how to draw."""
PATIENCE = 30.0
"""Seconds the child may take."""
ADVICE = (
    "On Debian or Ubuntu install libosmesa6, or libegl1 together with libgl1 "
    "(apt-get install libosmesa6). All other results are complete without pictures."
)
_CHILD = """
import vtkmodules.vtkCommonMath
import vtkmodules.vtkFiltersCore
import vtkmodules.vtkRenderingOpenGL2
import vtkmodules.util.numpy_support
from vtkmodules.vtkFiltersSources import vtkSphereSource
from vtkmodules.vtkRenderingCore import (
    vtkActor, vtkPolyDataMapper, vtkRenderer, vtkRenderWindow, vtkWindowToImageFilter)
source, mapper, actor, scene = vtkSphereSource(), vtkPolyDataMapper(), vtkActor(), vtkRenderer()
mapper.SetInputConnection(source.GetOutputPort()); actor.SetMapper(mapper); scene.AddActor(actor)
window = vtkRenderWindow(); window.SetOffScreenRendering(1); window.SetSize(32, 32); window.AddRenderer(scene)
window.Render()
picture = vtkWindowToImageFilter(); picture.SetInput(window); picture.Update()
low, high = picture.GetOutput().GetScalarRange()
print("drawn" if high > low else "blank", window.GetClassName())
"""


class DrawError(BiomechError, RuntimeError):
    """Pictures are not possible on this machine; the text says why and what to install."""


@dataclass(frozen=True)
class Drawing:
    """Whether drawing works: `window` is the value for VTK_DEFAULT_OPENGL_WINDOW ("" for VTK's own choice).

    `reason` is empty when it works; else it says what failed and what to install.
    """

    works: bool
    window: str
    reason: str


@cache
def drawing() -> Drawing:
    """Return whether this machine can draw off-screen, tried once in child processes (about a second).

    A value of VTK_DEFAULT_OPENGL_WINDOW set by the user is the only one tried. Without a display on Linux EGL is tried,
    then OSMesa; elsewhere VTK's own choice first.
    """
    failures = []
    for window in _candidates():
        used, failure = attempt(window)
        if not failure:
            return Drawing(True, used if window else "", "")
        failures.append(f"{window or 'default window'}: {failure}")
    return Drawing(False, "", f"no picture can be drawn here ({'; '.join(failures)}). {ADVICE}")


def ensure_drawing() -> None:
    """Make VTK draw the way that was found to work; raise DrawError when there is none."""
    found = drawing()
    if not found.works:
        raise DrawError(found.reason)
    if found.window:
        os.environ[VARIABLE] = found.window


def _candidates() -> list[str]:
    chosen = os.environ.get(VARIABLE)
    if chosen:
        return [chosen]
    headless = ["vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow"]
    if not sys.platform.startswith("linux"):
        return [""]
    shown = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    return ["", *headless] if shown else headless


def attempt(window: str) -> tuple[str, str]:
    """Draw in a child process with this value of VTK_DEFAULT_OPENGL_WINDOW.

    Return the kind of window VTK drew with (it may fall back to another one) and what failed, "" if nothing.
    """
    environment = dict(os.environ)
    if window:
        environment[VARIABLE] = window
    try:
        done = subprocess.run(
            [sys.executable, "-c", _CHILD], capture_output=True, text=True, timeout=PATIENCE, env=environment,
            check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return "", f"not finished after {PATIENCE:g} s"
    except OSError as error:
        return "", f"no child process could be started ({error})"
    said = done.stdout.split()
    if done.returncode == 0 and said[:1] == ["drawn"]:
        return said[-1], ""
    return "", _failure(done)


def _failure(done: subprocess.CompletedProcess[str]) -> str:
    """Return in one phrase what went wrong in the child."""
    if done.returncode == 0:
        return "the test picture came out blank"
    last = (done.stderr.strip().splitlines() or [""])[-1]
    if done.returncode == 1 and re.match(r"[A-Za-z_.]*Error: ", last):
        return last  # of a library that cannot be loaded, say
    if done.returncode < 0:
        return f"the drawing library ended the process with signal {-done.returncode}"
    return f"the test picture ended with status {done.returncode}"
