"""Pixels a millimetre of a film: typed, from the width of the view, or from a card in any of its frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.homography import transform
from defectmap.film.reading import Frame, Source
from defectmap.film.registering import Registered
from defectmap.panel import scale
from defectmap.panel.measurement import Scale
from defectmap.panel.photo import colour
from defectmap.panel.photo.photograph import Photo


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmScale:
    """The scale, and where the card lies in the frame that shows it."""

    scale: Scale  # of that frame
    card: NDArray[np.float64] | None = None  # (N, 2) x, y
    frame: int | None = None

    def about_card(self, shape: tuple[int, int]) -> NDArray[np.bool_] | None:
        """(H, W) the card and as far around it as the hand may have moved: no lamp is sought there."""
        if self.card is None:
            return None
        mask = np.zeros(shape, np.uint8)
        cv2.fillPoly(mask, [np.round(self.card).astype(np.int32)], 1)
        wide = round(tuning.CARD_MARGIN_MM * self.scale.px_per_mm) | 1
        return np.asarray(cv2.dilate(mask, np.ones((wide, wide), np.uint8)) > 0)

    def card_on_map(self, laid: Registered) -> NDArray[np.float64] | None:
        """The card's outline on the map; None without a card, or where its frame did not fit."""
        place = self._place(laid)
        if self.card is None or place is None:
            return self.card
        return transform(laid.to_map[place], self.card)

    def of_map(self, laid: Registered) -> Scale:
        """The scale of the map: of the card's frame, times how much that is widened there on the map."""
        place, outline = self._place(laid), self.card
        if outline is None or place is None:
            return self.scale
        wider = np.sqrt(_area(transform(laid.to_map[place], outline)) / _area(outline))
        return replace(self.scale, px_per_mm=self.scale.px_per_mm * float(wider))

    def _place(self, laid: Registered) -> int | None:
        return next((k for k, frame in enumerate(laid.frames) if frame.number == self.frame), None)


def find_scale(
    film: Source, chosen: Sequence[int], *, px_per_mm: float | None, field_width_mm: float | None
) -> FilmScale:
    """Resolve the scale, seeking the card in evenly spread frames where none is typed.

    Parameters
    ----------
    chosen : sequence of int
        Frames to be measured.

    Raises
    ------
    ScaleError
        The scale given cannot be right.
    """
    typed = px_per_mm is not None or field_width_mm is not None
    if typed:
        frame = next(film.frames(chosen[:1]))
        found = scale.resolve(_photo(film, frame), px_per_mm=px_per_mm, field_width_mm=field_width_mm)
        outline = None if found.card is None else found.card[:, ::-1]
        return FilmScale(scale=found.scale, card=outline, frame=frame.number)
    some = [chosen[round(k)] for k in np.linspace(0, len(chosen) - 1, min(len(chosen), tuning.CARD_FRAMES))]
    for frame in film.frames(sorted(set(some))):
        found = scale.resolve(_photo(film, frame))
        if found.scale.calibrated:
            outline = None if found.card is None else found.card[:, ::-1]
            return FilmScale(scale=found.scale, card=outline, frame=frame.number)
    return FilmScale(scale=Scale(px_per_mm=1.0, source="none"))


def _photo(film: Source, frame: Frame) -> Photo:
    light = colour.luminance(frame.rgb, top_code=255)
    return Photo(facts=film.facts, luminance=light, rgb=frame.rgb)


def _area(outline: NDArray[np.float64]) -> float:
    return float(cv2.contourArea(outline.astype(np.float32)))
