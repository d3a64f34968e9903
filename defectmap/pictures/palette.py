"""Colours and line styles of the kinds of mark, the same in every picture and figure.

The colours are those of Okabe and Ito (Color Universal Design, 2008; printed in Wong, Nature Methods 8:441,
2011), which people with any common colour blindness can tell apart; line style and width tell the kinds apart
without them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from defectmap.panel.measurement import MarkKind

Rgb = tuple[int, int, int]

ORANGE: Rgb = (230, 159, 0)
SKY_BLUE: Rgb = (86, 180, 233)
GREEN: Rgb = (0, 158, 115)
YELLOW: Rgb = (240, 228, 66)
PINK: Rgb = (204, 121, 167)
WHITE: Rgb = (255, 255, 255)
LIGHT_GREY: Rgb = (190, 190, 190)


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStyle:
    """How one kind of mark is drawn."""

    colour: Rgb
    sides: Literal[1, 2]  # lines beside the mark
    width: int  # in units of the picture's line width
    dash: tuple[float, float] | None = None  # on and off, in the same unit; a whole line if not given


STYLES: dict[MarkKind, LineStyle] = {
    "swirl": LineStyle(colour=SKY_BLUE, sides=1, width=1),
    "scratch": LineStyle(colour=ORANGE, sides=2, width=2),
    "trail": LineStyle(colour=GREEN, sides=1, width=2, dash=(8.0, 6.0)),
}
FAINT = LineStyle(colour=LIGHT_GREY, sides=1, width=1, dash=(2.0, 4.0))  # fainter than the standard mark
