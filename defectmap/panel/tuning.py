"""Every figure that was chosen, with its unit, what it does, where it comes from and what it weighs.

Weight: by how much the density of the rendered phones moves when the figure moves by 20 % either way
(`benchmarks/sensitivity.py`).
"""

from __future__ import annotations

# -- strength of a mark
STANDARD_UM = 100.0  # µm of equivalent width; marks at least so strong count (DESIGN, part 2)
STANDARD_LENGTH_MM = 1.0  # mm along which a mark must be so strong, and window of its running median
SPECTRUM_UM = (50, 100, 200, 400)  # µm; the strengths at which a density is told
HALF_CORE_MM = 0.2  # mm on each side of a line that its light is summed over
SIDE_MM = (0.25, 0.45)  # mm from a line, where the light beside it is read
ACROSS_STEP_MM = 0.05  # mm between samples across a line
DARKEST_BESIDE = 5e-4  # linear light; below, steps of an 8-bit file hide what paint sends
