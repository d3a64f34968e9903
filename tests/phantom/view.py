"""From the panel to the picture and back: a camera that looks straight down keeps shapes (a similarity)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Where the picture lies on the panel."""

    size_px: tuple[int, int]
    px_per_mm: float
    offset_mm: tuple[float, float]
    turn_deg: float

    @property
    def _terms(self) -> tuple[float, float, float, float]:
        turn = math.radians(self.turn_deg)
        return math.cos(turn), math.sin(turn), (self.size_px[0] - 1) / 2, (self.size_px[1] - 1) / 2

    def to_px(self, row_mm: Floats, column_mm: Floats) -> tuple[Floats, Floats]:
        """Row and column in px of places on the panel; any shape."""
        cos, sin, middle_row, middle_column = self._terms
        r, c = row_mm - self.offset_mm[0], column_mm - self.offset_mm[1]
        s = self.px_per_mm
        return middle_row + s * (r * cos - c * sin), middle_column + s * (c * cos + r * sin)

    def to_mm(self, row: Floats, column: Floats) -> tuple[Floats, Floats]:
        """Row and column in mm on the panel of places in the picture; any shapes that broadcast."""
        cos, sin, middle_row, middle_column = self._terms
        r, c = (row - middle_row) / self.px_per_mm, (column - middle_column) / self.px_per_mm
        return self.offset_mm[0] + r * cos + c * sin, self.offset_mm[1] + c * cos - r * sin

    @property
    def matrix(self) -> NDArray[np.float64]:
        """(2, 3) matrix from (column, row, 1) in px to (column, row) in mm."""
        row0, column0 = self.to_mm(np.zeros(1), np.zeros(1))
        cos, sin, _, _ = self._terms
        s = self.px_per_mm
        return np.array([[cos / s, -sin / s, column0[0]], [sin / s, cos / s, row0[0]]])

    def contains(self, row: Floats, column: Floats, margin_px: float = 0.5) -> NDArray[np.bool_]:
        """Which places (px) lie in the picture, or at most `margin_px` beyond its outer pixel centres."""
        height, width = self.size_px
        high = (row >= -margin_px) & (row <= height - 1 + margin_px)
        return high & (column >= -margin_px) & (column <= width - 1 + margin_px)
