"""The truth of a photograph: which pieces of which grooves it shows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.measurement import Polarity
from tests.phantom.grooves import Groove, GrooveKind
from tests.phantom.strokes import TRUTH_STEP_MM, Samples, Strips

Floats = NDArray[np.floating[Any]]

MIN_CNR = 3.0
MIN_LENGTH_MM = 1.0
STANDARD_UM = 100.0  # equivalent width of a standard mark


@dataclass(frozen=True, slots=True, kw_only=True)
class VisiblePiece:
    """A stretch of one groove, 1 mm or longer, that stands out: of the noise, or enough for the standard."""

    groove: int  # index into the grooves that were photographed
    kind: GrooveKind
    polarity: Polarity
    length_mm: float
    cnr: float  # median of |peak - surround| over the noise of one pixel
    um: float  # median equivalent width: light of the groove, summed across it, over the light beside it
    points: NDArray[np.float64]  # (N, 2) row, column in px, every 0.15 mm or closer


def peak_share(width_px: Floats, strips: int, blur_px: float) -> NDArray[np.float64]:
    """What each strip adds, after blur, at the middles and inner edges of all strips: (N, 2 S - 1, S)."""
    from scipy.special import ndtr

    centre = (np.arange(strips) + 0.5) / strips - 0.5
    place = (np.arange(2 * strips - 1) + 1) / strips / 2 - 0.5
    gap = (place[:, None] - centre[None, :])[None] * width_px[:, None, None]
    half = width_px[:, None, None] / strips / 2
    share: NDArray[np.float64] = ndtr((gap + half) / blur_px) - ndtr((gap - half) / blur_px)
    return share


def contrast(group: Strips, flat: Floats, *, blur_px: float) -> Floats:
    """Signed peak of |groove - surround| across the groove, for each sample of a group, in units of light.

    Parameters
    ----------
    group : Strips
    flat : (N,) ndarray
        Light of the surface beside the groove.
    blur_px : float
        SD of the whole point spread, pixel included.
    """
    excess = group.light - flat[:, None]
    across = np.einsum("nij,nj->ni", peak_share(group.width_px, excess.shape[1], blur_px), excess)
    best = np.abs(across).argmax(axis=1)
    return across[np.arange(len(across)), best]  # type: ignore[no-any-return]


def pieces(
    grooves: Sequence[Groove],
    samples: Samples,
    *,
    signed_cnr: Floats,
    um: Floats,
    state: NDArray[np.int64],
    row_px: Floats,
    column_px: Floats,
) -> tuple[VisiblePiece, ...]:
    """Cut the samples into runs that stay visible with one polarity over at least 1 mm.

    Parameters
    ----------
    grooves : sequence of Groove
    samples : Samples
        N places along the grooves.
    signed_cnr : (N,) ndarray
        Contrast over noise, negative where dark; 0 where hidden or outside the frame.
    um : (N,) ndarray
        Equivalent width, likewise.
    state : (N,) int64 ndarray
        1 and -1 where it stands out bright and dark, else 0.
    row_px, column_px : (N,) ndarray
        The same places in the photograph.
    """
    if not len(samples.groove):
        return ()
    label = samples.groove * 3 + state
    start = np.flatnonzero(np.diff(label, prepend=-9))
    stop = np.append(start[1:], len(label))
    found = []
    for a, b in zip(start, stop, strict=True):
        length = float(samples.along_mm[b - 1] - samples.along_mm[a])
        if state[a] == 0 or length < MIN_LENGTH_MM - 1e-9 or grooves[samples.groove[a]].kind == "water spot":
            continue
        index = int(samples.groove[a])
        found.append(
            VisiblePiece(
                groove=index,
                kind=grooves[index].kind,
                polarity="bright" if state[a] > 0 else "dark",
                length_mm=length,
                cnr=float(np.median(np.abs(signed_cnr[a:b]))),
                um=float(np.median(np.abs(um[a:b]))),
                points=np.column_stack([row_px[a:b], column_px[a:b]]).astype(np.float64),
            )
        )
    return tuple(found)


def running(values: Floats, samples: Samples) -> Floats:
    """Median along 1 mm of each groove, its end values repeated."""
    from scipy.ndimage import median_filter

    window = round(MIN_LENGTH_MM / TRUTH_STEP_MM) | 1
    cuts = np.flatnonzero(np.diff(samples.groove)) + 1
    parts = [median_filter(part, window, mode="nearest") for part in np.split(values, cuts)]
    return np.concatenate(parts) if len(values) else values


def total_blur_px(blur_px: float) -> float:
    """SD of camera blur and the pixel's own square together."""
    return math.sqrt(blur_px**2 + 1 / 12)
