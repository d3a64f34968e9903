"""Small tilts of the panel's normal: orange peel and metallic flakes, tied to the panel, not the photo."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Tile = NDArray[np.float32]
Floats = NDArray[np.floating[Any]]

TILE_PX = 512
PEEL_STEP_MM = 0.25  # a tile is 128 mm; it repeats beyond
FLAKE_STEP_MM = 0.05
_PEEL_WAVELENGTH_MM = 2.2
_PEEL_SPREAD = 0.3  # of log wavelength


@lru_cache(maxsize=8)
def peel_tile(seed: int) -> Tile:
    """Slopes (row, column) of orange peel, unit RMS each, as a (2, 512, 512) periodic tile.

    A Gaussian random height whose spectrum is a band about 2.2 mm wavelength (common practice, no source).
    """
    rng = np.random.default_rng([seed, 5])
    white = np.fft.rfft2(rng.standard_normal((TILE_PX, TILE_PX)))
    fr = np.fft.fftfreq(TILE_PX, PEEL_STEP_MM)[:, None]
    fc = np.fft.rfftfreq(TILE_PX, PEEL_STEP_MM)[None, :]
    f = np.hypot(fr, fc)
    with np.errstate(divide="ignore"):
        band = np.exp(-(np.log(f * _PEEL_WAVELENGTH_MM) ** 2) / (2 * _PEEL_SPREAD**2))
    height = white * band / np.maximum(f, 1e-9)
    slopes = np.stack([np.fft.irfft2(1j * g * height, s=(TILE_PX, TILE_PX)) for g in (fr, fc)])
    return np.asarray(slopes / np.sqrt((slopes**2).mean()), np.float32)


@lru_cache(maxsize=8)
def flake_tile(seed: int) -> Tile:
    """Tilts (row, column) of flakes, one a 0.05 mm cell, standard normal: a (2, 512, 512) periodic tile."""
    rng = np.random.default_rng([seed, 6])
    return rng.standard_normal((2, TILE_PX, TILE_PX), dtype=np.float32)


def at_points(tile: Tile, row_mm: Floats, column_mm: Floats, step_mm: float) -> tuple[Floats, Floats]:
    """Both slopes of a periodic tile at scattered places, bilinear."""
    r, c = np.asarray(row_mm / step_mm, np.float64), np.asarray(column_mm / step_mm, np.float64)
    r0, c0 = np.floor(r).astype(np.int64), np.floor(c).astype(np.int64)
    fr, fc = r - r0, c - c0
    r1, c1 = (r0 + 1) % TILE_PX, (c0 + 1) % TILE_PX
    r0, c0 = r0 % TILE_PX, c0 % TILE_PX
    out = [
        (t[r0, c0] * (1 - fc) + t[r0, c1] * fc) * (1 - fr) + (t[r1, c0] * (1 - fc) + t[r1, c1] * fc) * fr
        for t in tile
    ]
    return out[0], out[1]


def in_frame(
    tile: Tile, matrix: NDArray[np.float64], size_px: tuple[int, int], step_mm: float, *, smooth: bool = True
) -> tuple[Floats, Floats]:
    """Both slopes of a periodic tile at every pixel; `matrix` (2, 3) takes (column, row, 1) px to mm."""
    import cv2

    height, width = size_px
    flags = (cv2.INTER_LINEAR if smooth else cv2.INTER_NEAREST) | cv2.WARP_INVERSE_MAP
    out = [
        cv2.warpAffine(t, matrix / step_mm, (width, height), flags=flags, borderMode=cv2.BORDER_WRAP)
        for t in tile
    ]
    return np.asarray(out[0], np.float32), np.asarray(out[1], np.float32)
