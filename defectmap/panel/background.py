"""The light of a panel without its marks: halo, body colour and orange peel."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.measurement import Hotspot


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Background:
    """Light of the panel without its marks, on a coarse grid."""

    blocks: NDArray[np.float32]  # (h, w), linear light, one value a block
    block_px: int
    shape: tuple[int, int]  # of the photograph

    def full(self, shape: tuple[int, int] | None = None) -> NDArray[np.float32]:
        """Interpolate to the photograph's size, or to `shape`."""
        height, width = shape or self.shape
        return np.asarray(cv2.resize(self.blocks, (width, height), interpolation=cv2.INTER_LINEAR))

    def of_blocks(self, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """(h, w) what a mask of the photograph's size says of the first pixel of each block."""
        rows, columns = self.blocks.shape
        return mask[:: self.block_px, :: self.block_px][:rows, :columns]

    def distance_px(self, hotspot: Hotspot) -> NDArray[np.float32]:
        """How far the middle of each block lies from the hotspot."""
        height, width = self.blocks.shape
        rows, columns = np.mgrid[:height, :width].astype(np.float32) * self.block_px + (self.block_px - 1) / 2
        away: NDArray[np.float32] = np.hypot(
            rows - np.float32(hotspot.row), columns - np.float32(hotspot.column)
        )
        return away


def background(luminance: NDArray[np.float32]) -> Background:
    """Local median of the light: halo, body colour and orange peel stay, marks and dust go.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    """
    height, width = luminance.shape
    size = (max(1, width // tuning.BACKGROUND_BLOCK_PX), max(1, height // tuning.BACKGROUND_BLOCK_PX))
    blocks = cv2.resize(luminance, size, interpolation=cv2.INTER_AREA)
    blocks = cv2.medianBlur(np.ascontiguousarray(blocks), tuning.BACKGROUND_MEDIAN_BLOCKS)
    return Background(
        blocks=np.asarray(blocks, dtype=np.float32),
        block_px=tuning.BACKGROUND_BLOCK_PX,
        shape=(height, width),
    )
