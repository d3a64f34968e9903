"""Pictures for the pages: small, re-encoded, and so without the camera's own data (place, serial numbers)."""

from __future__ import annotations

import base64
import dataclasses
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from defectmap.errors import PhotoError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from defectmap.comparison.outcome import SpotComparison
    from defectmap.film.assembling import FilmMeasurement
    from defectmap.panel.measurement import PanelMeasurement
    from defectmap.record.corrections import Exclusion

    Picture = NDArray[np.uint8]

PREVIEW_PX, GHOST_PX, OVERLAY_PX, CROP_PX = 480, 960, 2600, 640
QUALITY = 85


def preview_jpeg(path: Path | bytes, *, longest_side_px: int = PREVIEW_PX) -> bytes | None:
    """A small upright JPEG of a photograph, or of a film's first frame; None where it is no picture."""
    from defectmap.film.container import is_film_file
    from defectmap.film.reading import small_frame
    from defectmap.panel.photo.photograph import small_copy

    try:
        if isinstance(path, Path) and is_film_file(path):
            return _jpeg(small_frame(path, longest_side_px=longest_side_px))
        return _jpeg(small_copy(path, longest_side_px=longest_side_px))
    except PhotoError:
        return None


def overlay_jpeg(
    rgb: Picture,
    measured: PanelMeasurement,
    *,
    kinds: Collection[str],
    areas: Sequence[Exclusion] = (),
    zoom: float = 1.0,
) -> bytes:
    """The photograph, or the fused light of a film, with the marks of some kinds beside themselves.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 ndarray
        See `whole.picture_of`.
    kinds : collection of str
        Kinds to draw; "spots" stands for dust and water spots.
    areas : sequence of Exclusion
        Drawn as crossed boxes.
    zoom : float
        How much larger than the page it is shown; sets its size and how thick lines are.
    """
    import numpy as np

    from defectmap.pictures.overlay import draw_overlay

    shown = dataclasses.replace(
        measured,
        marks=tuple(mark for mark in measured.marks if mark.kind in kinds),
        spots=measured.spots if "spots" in kinds else (),
        faint_marks=(),  # the page lays them over the picture itself, where they are asked for
    )
    side_px, line_px = overlay_size(zoom)
    drawn = draw_overlay(rgb, shown, longest_side_px=side_px, line_px=line_px)
    # The legend below the picture counts what is drawn; the page says in words what is found.
    drawn = drawn[: round(drawn.shape[1] * rgb.shape[0] / rgb.shape[1])]
    drawn = np.ascontiguousarray(drawn)
    scale = drawn.shape[1] / rgb.shape[1]
    for area in areas:
        _cross_out(drawn, area, scale)
    return _jpeg(drawn)


def overlay_size(zoom: float) -> tuple[int, int]:
    """Longer side of an overlay and thickness of its lines, in px, to be seen on a page about 870 px wide.

    Examples
    --------
    >>> overlay_size(1.0), overlay_size(2.0), overlay_size(6.0)
    ((1300, 2), (2600, 2), (2600, 1))
    """
    if zoom <= 1:
        return OVERLAY_PX // 2, 2
    return OVERLAY_PX, 2 if zoom < 3 else 1


def crop_jpegs(
    before: bytes,
    after: bytes,
    spot: SpotComparison,
    *,
    centre: Literal["hotspot", "worst scratch"],
    inches: bool = False,
) -> tuple[bytes, bytes, str, float]:
    """The same piece of panel out of both photographs: before, after, a note, and its side in mm (or px)."""
    from defectmap.panel.photo.photograph import load
    from defectmap.pictures.crops import crop_pair
    from defectmap.words.comparison_words import CROPS
    from defectmap.words.remark import sentence

    pair = crop_pair(
        load(before, name="before"),
        load(after, name="after"),
        spot,
        centre=centre,
        side_px=CROP_PX,
        inches=inches,
    )
    words = sentence(pair.remark, CROPS)
    return _jpeg(pair.before), _jpeg(pair.after), words, pair.side_mm


def film_pair_jpegs(before: FilmMeasurement, after: FilmMeasurement) -> tuple[bytes, bytes]:
    """The light of all lamp places of two films, the second laid on the first."""
    from defectmap.pictures.film import fused_pair

    one, other = fused_pair(before, after)
    return _jpeg(one), _jpeg(other)


def directions_jpeg(film: FilmMeasurement) -> bytes:
    """Where a film was blind, and for which directions."""
    from defectmap.pictures.film import directions_picture

    return _jpeg(directions_picture(film))


def data_uri(jpeg: bytes) -> str:
    """A JPEG as an address inside the page itself."""
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode('ascii')}"


def _cross_out(rgb: Picture, area: Exclusion, zoom: float) -> None:
    import cv2

    corners = [
        (round(x * zoom), round(y * zoom)) for x, y in ((area.left, area.top), (area.right, area.bottom))
    ]
    (left, top), (right, bottom) = corners
    thick = max(2, rgb.shape[1] // 900)
    for colour, width in (((0, 0, 0), thick + 2), ((255, 255, 255), thick)):
        cv2.rectangle(rgb, (left, top), (right, bottom), colour, width)
        cv2.line(rgb, (left, top), (right, bottom), colour, width)
        cv2.line(rgb, (left, bottom), (right, top), colour, width)


def _jpeg(rgb: Picture) -> bytes:
    from defectmap.pictures.files import picture_file

    return picture_file(rgb, "JPEG", quality=QUALITY)
