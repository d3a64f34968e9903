"""A first, cheap look at every frame: where the lamp is reflected, how sharp it is, what stands still."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.errors import LampCut, PhotoError
from defectmap.film import tuning
from defectmap.film.reading import Frame, Source
from defectmap.panel import hotspot as light
from defectmap.panel.photo import colour

FilmProgress = Callable[[str, int, int], None]  # what is done, how much of it, of how much


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameLook:
    """What a small copy of a frame shows."""

    number: int
    lamp: tuple[float, float, float] | None  # x, y, radius of the hotspot, px of the frame
    detail: float  # height of the finest detail, codes of the file
    changed: float  # mean difference from the frame before, codes
    cut: bool = False  # whether a lamp's reflection is there and cut by the frame


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmLook:
    """All frames that were looked at."""

    frames: list[FrameLook]
    seen: int  # frames that the file gave
    static_share: float  # of the picture: bright, sharp, and the same in every frame


def look(film: Source, *, progress: FilmProgress | None = None) -> FilmLook:
    """Look at every frame once, or at evenly spread ones of a long film."""
    every = max(1, film.said_frames // tuning.MOST_FRAMES_LOOKED)
    looks: list[FrameLook] = []
    standing: _Standing | None = None
    before: NDArray[np.uint8] | None = None
    wanted = range(0, film.said_frames, every) if every > 1 else None
    for frame in film.frames(wanted):
        small, grey = _small(frame)
        changed = float(np.inf) if before is None else float(cv2.absdiff(grey, before).mean())
        looks.append(_frame_look(frame, small, grey, changed))
        standing = standing.joined(grey) if standing else _Standing(grey.copy(), grey.copy())
        before = grey
        if progress:
            progress("looking at frames", len(looks), max(film.said_frames // every, len(looks)))
    seen = looks[-1].number + 1 if looks else 0
    return FilmLook(frames=looks, seen=seen, static_share=standing.share() if standing else 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Standing:
    """Lowest and highest code of each pixel so far."""

    low: NDArray[np.uint8]
    high: NDArray[np.uint8]

    def joined(self, grey: NDArray[np.uint8]) -> _Standing:
        cv2.min(self.low, grey, dst=self.low)
        cv2.max(self.high, grey, dst=self.high)
        return self

    def share(self) -> float:
        """Share of the picture that never changes and holds sharp rims."""
        still = cv2.subtract(self.high, self.low) <= tuning.STATIC_CODES
        step = cv2.morphologyEx(self.low, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
        return float((still & (step >= tuning.SHARP_CODES)).mean())


def _small(frame: Frame) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    height, width = frame.rgb.shape[:2]
    factor = min(1.0, tuning.LOOK_WIDTH_PX / max(height, width))
    size = max(1, round(width * factor)), max(1, round(height * factor))
    small = np.asarray(cv2.resize(frame.rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
    return small, np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.uint8)


def _frame_look(frame: Frame, small: NDArray[np.uint8], grey: NDArray[np.uint8], changed: float) -> FrameLook:
    linear = colour.luminance(small, top_code=255)
    factor, cut = frame.rgb.shape[1] / small.shape[1], False
    try:
        found = light.find_hotspot(linear)
        centre = ((n + 0.5) * factor - 0.5 for n in (found.column, found.row))
        lamp = (*centre, found.radius_px * factor)
    except PhotoError as error:
        lamp, cut = None, isinstance(error, LampCut)
    fine = np.abs(cv2.Laplacian(grey, cv2.CV_16S, ksize=1))
    # the strongest detail of a dark frame is the lamp's rim; how sharp that is tells as well
    detail = float(np.quantile(fine[::2, ::2], tuning.DETAIL_QUANTILE))
    return FrameLook(number=frame.number, lamp=lamp, detail=detail, changed=changed, cut=cut)
