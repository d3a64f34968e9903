"""The figures of the trade's rules that a shop cannot change; the others stand in `tables.toml`.

Weight: each decides a rule alone, so a change shows in the advice at once (`tests/trade`).
"""

from __future__ import annotations

READINGS_A_PLACE = 3  # of one place within a circle of about 4 cm, see `thickness` for its source
ODD_BEYOND_SD = 3.0  # over the median of a place: beyond, a high reading that does not repeat is left out
REPEATS_NEEDED = 2  # further readings that settle a low one (our own caution, no source)
FOLLOW_UP_MONTHS = 6  # after the hand-over, until the paint is looked at again (our own suggestion)

# The capture coach: our own choice, tried on rendered photographs (common practice, no source). None stops a
# photograph; each decides whether one thing about it is asked for.
OFF_CENTRE = 0.22  # lamp's reflection from the middle, in shorter sides of the picture
SMALLEST_HOTSPOT, LARGEST_HOTSPOT = 0.025, 0.16  # its radius, in shorter sides
LEAST_ZONE_SHARE = 0.35  # of the picture in which marks can be counted
SOFT_MARK_PX = 4.0  # median width; sharp photographs of fine marks show about 2
FEWEST_FOR_FOCUS = 8  # marks
MOST_TILT_DEG = 20.0  # of the card
MOST_BLIND = 2  # places told at once
MOST_SHAKEN = 0.3  # of a film's frames
RADIUS_APART, SCALE_APART, STOPS_APART = 1.15, 1.25, 0.7  # from the earlier photograph: ratios, and stops
