"""Every figure that was chosen, with its unit, what it does, where it comes from and what it weighs.

Weight: by how much the density of the rendered phones moves when the figure moves by 20 % either way
(`benchmarks/sensitivity.py`).
"""

from __future__ import annotations

# -- strength of a mark
STANDARD_UM = 100.0  # µm of equivalent width; marks at least so strong count (DESIGN, part 2)
STANDARD_LENGTH_MM = 1.0  # mm along which a mark must be so strong, and window of its running median
SPECTRUM_UM = (50, 100, 200, 400)  # µm; the strengths at which a density is told
FAINTEST_UM = 25.0  # µm; half of the weakest strength told: fainter lines are not listed
HALF_CORE_MM = 0.2  # mm on each side of a line that its light is summed over
SIDE_MM = (0.25, 0.45)  # mm from a line, where the light beside it is read
ACROSS_STEP_MM = 0.05  # mm between samples across a line
DARKEST_BESIDE = 5e-4  # linear light; below, steps of an 8-bit file hide what paint sends

# -- grain, and what it hides
GRAIN_FLOOR = 0.35  # of a sensor at ISO 100; what looks smoother was smoothed, and its faint marks with it
MOST_HIDDEN_GAIN = (
    8.0  # times; denoising and JPEG hide so much of a gain; a rendered ISO 1600 file reads as 600
)
SEEN_FROM = 1.25  # times the scatter that the middle of a line must stand out along 1 mm: rendered panels
LINE_AREA_PX = 2.2  # px; area over height of a fine line in focus: a Gaussian of 0.9 px, 0.9 √(2π)
CREST_FROM = 2.8  # times the lower quartile of the filters' answers on grain, from where a crest is followed

# -- zone
BRIGHTEST_SURROUND = 0.55  # linear light; above, a mark of 100 µm at 20 px per mm has no room to stand out

# -- tracing
TRACING_PX_PER_MM = 11.0  # lines are traced on a copy of about this scale: they stand out more, sooner
MAX_TRACING_MEGAPIXELS = 6.0  # of that copy where the scale is unknown
# µm; the zone ends where a mark must be stronger than that to show along 1 mm: about half of the length of
# standard marks is, and what is longer than 1 mm shows earlier. A smaller figure takes in less of noisy
# pictures, and so nearer to the lamp, where density is higher: other zone, other figure for one paint
ZONE_UM = 300.0

# -- refusals and warnings
LEAST_ZONE, SMALL_ZONE = 0.03, 0.25  # share of the picture: below, refused and warned
SOFT_PX, BLURRED_PX = 4.0, 5.0  # full width of the median line; a focused phone draws 2 to 3 px
LINES_TO_JUDGE_MM = 10.0  # of lines before their width says anything
ROUND_SHARE, LEAST_ROUND_SHARE = 0.75, 0.62  # of bright length near the tangent: below, warned and refused
MOST_TEXTURE = 0.6  # of the zone; with more of it texture, the picture shows no panel
# -- crowds of lines that no lamp here could light
CROWD_CELL_MM = 4.0  # side of a cell; a place is three cells wide
CROWD_MM_PER_CM2 = 3.0  # of lines more than 46° off the tangent
CROWD_CELLS = 6  # fewest cells that make a crowd, about 1 cm² beyond the first
CROWD_SHARE = 0.3  # of all bright lines there; on rendered panels 0.1, at random 0.5
