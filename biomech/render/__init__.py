"""Files and pictures of a solution. The only place that draws; numbers never depend on it.

`write_vtk` needs no graphics; `picture` needs PyVista and a library to draw off-screen (`drawing` says whether one
works and, if not, what to install); `tooth_section` needs matplotlib only. Heavy libraries load on first use.
"""

from biomech.render.files import write_vtk
from biomech.render.picture import picture
from biomech.render.probe import DrawError, Drawing, drawing
from biomech.render.section import tooth_section

__all__ = ["DrawError", "Drawing", "drawing", "picture", "tooth_section", "write_vtk"]
