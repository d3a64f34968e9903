"""Lines on plain paper at the noise of the camera that the program assumes, traced by the program."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.background import background
from defectmap.panel.marks import Findings, find_marks
from defectmap.panel.measurement import Hotspot, Mark
from defectmap.panel.noise import pixel_noise
from tests.phantom.flat import Line, lines_on_flat

LEVEL = 0.2  # linear light of the paper
AMPLITUDE = 0.2  # of a line: 35 times the noise of a pixel
WIDTH_PX = 0.95  # standard deviation across a line
PX_PER_MM = 20.0
NO_LAMP = Hotspot(row=-500.0, column=-500.0, radius_px=50.0, lamps=1)  # even paper has no halo
NOISE = float(pixel_noise(np.asarray(LEVEL, np.float32), gain=1.0))


def draw(lines: list[NDArray[np.float64]], *, size_px: tuple[int, int], seed: int = 1) -> NDArray[np.float32]:
    """Bright lines, given by their points (row, column) in px."""
    made = [Line(points=points, amplitude=AMPLITUDE, width_px=WIDTH_PX) for points in lines]
    return lines_on_flat(made, size_px=size_px, background=LEVEL, noise=NOISE, seed=seed)


def marks_in(luminance: NDArray[np.float32], inside: NDArray[np.bool_] | None = None) -> list[Mark]:
    """Every line the tracer finds, everywhere or in a part of the picture."""
    return found_in(luminance, inside).marks


def found_in(
    luminance: NDArray[np.float32], inside: NDArray[np.bool_] | None = None, *, px_per_mm: float = PX_PER_MM
) -> Findings:
    """Everything the tracer finds."""
    everywhere = np.ones(luminance.shape, np.bool_)
    back = background(luminance)
    return find_marks(
        luminance, back, NO_LAMP, everywhere if inside is None else inside, gain=1.0, px_per_mm=px_per_mm
    )
