"""Analytic photographs of a panel under an inspection lamp, with exact truth, for tests and simulations.

Direct light only, in closed form: a 900 x 700 px photograph takes a fraction of a second on one core.
`photograph` renders grooves under a lamp; `lines_on_flat` draws plain lines for checks of line theory.

Panel coordinates are (row, column) in mm: row grows down the picture, column to the right, and (0, 0) is the
middle of the panel. Pixels follow the rest of the project: the centre of the first pixel is (0, 0).
"""

from __future__ import annotations

from tests.phantom.flat import Line, arc, lines_on_flat, poisson_lines, straight
from tests.phantom.grooves import Groove, lengths_mm, polished, ring, scratches, swirls, trails
from tests.phantom.record import truth_record, write
from tests.phantom.scene import Phantom, photograph
from tests.phantom.setup import Panel, Shot
from tests.phantom.visible import VisiblePiece

__all__ = [
    "Groove",
    "Line",
    "Panel",
    "Phantom",
    "Shot",
    "VisiblePiece",
    "arc",
    "lengths_mm",
    "lines_on_flat",
    "photograph",
    "poisson_lines",
    "polished",
    "ring",
    "scratches",
    "straight",
    "swirls",
    "trails",
    "truth_record",
    "write",
]
