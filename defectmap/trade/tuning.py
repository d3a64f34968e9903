"""The figures of the trade's rules that a shop cannot change; the others stand in `tables.toml`.

Weight: each decides a rule alone, so a change shows in the advice at once (`tests/trade`).
"""

from __future__ import annotations

READINGS_A_PLACE = 3  # of one place within a circle of about 4 cm, see `thickness` for its source
ODD_BEYOND_SD = 3.0  # over the median of a place: beyond, a high reading that does not repeat is left out
REPEATS_NEEDED = 2  # further readings that settle a low one (our own caution, no source)
FOLLOW_UP_MONTHS = 6  # after the hand-over, until the paint is looked at again (our own suggestion)
