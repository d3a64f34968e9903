"""The photograph with every mark drawn beside itself, so that a person can check the measurement by eye.

Kinds differ in colour, line style and width (`defectmap.pictures.palette`); what is fainter than the standard
mark is dotted. A line never covers its mark: it runs beside it, at half the mark's width plus a clearance.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel.measurement import Hotspot, Mark, PanelMeasurement, SpotDefect
from defectmap.pictures.legend import add_legend, draw_scale_bar
from defectmap.pictures.palette import FAINT, PINK, STYLES, WHITE, YELLOW, LineStyle, Rgb

RgbArray = NDArray[np.uint8]

# Shown code = 255 * (code / 255) ** TONE_EXPONENT: photographs of dark paint are dark, and a curve that is
# the same for every photograph keeps before and after honest.
TONE_EXPONENT = 0.6
SHORTEST_LONG_SIDE_PX, LONGEST_LONG_SIDE_PX = 1600, 4800
_SHIFT = 4  # OpenCV draws with 1/16 px coordinates


@dataclass(frozen=True, slots=True)
class _Canvas:
    """The picture being drawn on, its zoom against the photograph, and its line width."""

    rgb: RgbArray
    zoom: float
    line_px: int

    def xy(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 2) row, column in the photograph to (N, 2) x, y on the canvas."""
        xy: NDArray[np.float64] = (points[:, ::-1] + 0.5) * self.zoom - 0.5
        return xy


def draw_overlay(
    rgb: RgbArray,
    measurement: PanelMeasurement,
    *,
    longest_side_px: int = LONGEST_LONG_SIDE_PX,
    line_px: int | None = None,
) -> RgbArray:
    """Draw a measurement over its photograph.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 ndarray
        The upright photograph as it was taken (sRGB codes).
    measurement : PanelMeasurement
        What was measured in it; ``measurement.zone`` has the same height and width.
    longest_side_px : int
        Larger photographs are drawn reduced to this; small ones are enlarged by a whole factor so that lines
        fit beside the marks.
    line_px : int, optional
        How thick a line is drawn, for a picture that is shown smaller than it is; by its size if not given.

    Returns
    -------
    (H2, W2, 3) uint8 ndarray
        The brightened photograph with marks, zone edge, lamp (of a film all its places), spots and scale bar,
        and a legend below it.

    Raises
    ------
    ValueError
        `rgb` is no (H, W, 3) uint8 array of the zone's size.
    """
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.dtype != np.uint8 or rgb.shape[:2] != measurement.zone.shape:
        raise ValueError(
            f"rgb must be uint8 of shape {(*measurement.zone.shape, 3)}, got {rgb.dtype} {rgb.shape}"
        )
    canvas = _prepare(rgb, longest_side_px=longest_side_px, line_px=line_px)
    _draw_zone_edge(canvas, measurement.zone)
    _draw_marks(canvas, measurement.faint_marks, FAINT, measurement)
    for kind, style in STYLES.items():
        _draw_marks(canvas, [mark for mark in measurement.marks if mark.kind == kind], style, measurement)
    _draw_spots(canvas, measurement.spots, px_per_mm=measurement.scale.px_per_mm)
    if measurement.film is not None and measurement.film.lamps:
        _draw_lamp_places(canvas, np.array(measurement.film.lamps)[:, ::-1])
    else:
        _draw_hotspot(canvas, measurement.hotspot)
    draw_scale_bar(canvas.rgb, px_per_unit=measurement.scale.px_per_mm * canvas.zoom, scale=measurement.scale)
    return add_legend(canvas.rgb, measurement)


def brighten(rgb: RgbArray) -> RgbArray:
    """Apply the overlay's fixed tone curve, ``255 * (code / 255) ** 0.6``, to sRGB codes of any shape."""
    curve = np.round(255 * (np.arange(256) / 255) ** TONE_EXPONENT).astype(np.uint8)
    shown: RgbArray = curve[rgb]
    return shown


def _prepare(rgb: RgbArray, *, longest_side_px: int, line_px: int | None) -> _Canvas:
    long_side = max(rgb.shape[:2])
    zoom = 1.0
    if long_side > longest_side_px:
        zoom = longest_side_px / long_side
        size = (round(rgb.shape[1] * zoom), round(rgb.shape[0] * zoom))
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    elif long_side < SHORTEST_LONG_SIDE_PX:
        zoom = float(min(4, -(-SHORTEST_LONG_SIDE_PX // long_side)))
        rgb = np.asarray(
            cv2.resize(rgb, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_CUBIC), dtype=np.uint8
        )
    return _Canvas(brighten(rgb), zoom, line_px or max(1, round(max(rgb.shape[:2]) / 2400)))


def _draw_marks(
    canvas: _Canvas, marks: Sequence[Mark], style: LineStyle, measurement: PanelMeasurement
) -> None:
    lines: list[NDArray[np.float64]] = []
    width_px = style.width * canvas.line_px
    dash = style.dash and tuple(part * canvas.line_px for part in style.dash)
    for mark in marks:
        half_width = 0.5 * mark.width_mm * measurement.scale.px_per_mm * canvas.zoom
        away = half_width + 2.0 * canvas.line_px + 0.5 * width_px
        for side in (1, -1)[: style.sides]:
            line = _beside(canvas.xy(mark.points), away=side * away)
            lines += [line] if dash is None else _dashes(line, on=dash[0], off=dash[1])
    _stroke(canvas.rgb, lines, colour=style.colour, width_px=width_px)


def _beside(xy: NDArray[np.float64], *, away: float) -> NDArray[np.float64]:
    """Shift a curve sideways by `away` pixels, to the left of its direction of travel."""
    if len(xy) < 2:
        return xy
    tangent = np.gradient(xy, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    shifted: NDArray[np.float64] = xy + away * np.column_stack([-tangent[:, 1], tangent[:, 0]])
    return shifted


def _dashes(xy: NDArray[np.float64], *, on: float, off: float) -> Iterator[NDArray[np.float64]]:
    """Cut a curve into dashes of `on` pixels, `off` pixels apart."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))])
    for start in np.arange(0.0, along[-1], on + off):
        stop = min(start + on, along[-1])
        at = np.concatenate([[start], along[(along > start) & (along < stop)], [stop]])
        yield np.column_stack([np.interp(at, along, xy[:, 0]), np.interp(at, along, xy[:, 1])])


def _stroke(rgb: RgbArray, lines: Sequence[NDArray[np.float64]], *, colour: Rgb, width_px: int) -> None:
    """Lay smooth, lines with a thin, see-through dark edge over the picture, in place."""
    if not lines:
        return
    fixed = [np.round(line * 2**_SHIFT).astype(np.int32) for line in lines]
    for shade, width, opacity in (((0, 0, 0), width_px + 2, 0.25), (colour, width_px, 1.0)):
        cover = np.zeros(rgb.shape[:2], np.uint8)
        cv2.polylines(cover, fixed, False, 255, width, cv2.LINE_AA, _SHIFT)
        _blend(rgb, cover, colour=shade, opacity=opacity)


def _blend(rgb: RgbArray, cover: RgbArray, *, colour: Rgb, opacity: float) -> None:
    at = np.nonzero(cover)
    # The root keeps a line of one pixel bright where smoothing spreads it over two.
    share = (np.sqrt(cover[at].astype(np.float32) / 255) * opacity)[:, None]
    rgb[at] = np.round(rgb[at] * (1 - share) + np.array(colour, np.float32) * share).astype(np.uint8)


def _draw_zone_edge(canvas: _Canvas, zone: NDArray[np.bool_]) -> None:
    height, width = canvas.rgb.shape[:2]
    mask = cv2.resize(zone.astype(np.uint8), (width, height), interpolation=cv2.INTER_NEAREST)
    contours: Any = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)[0]
    dashes: list[NDArray[np.float64]] = []
    for contour in contours:
        closed = np.concatenate([contour[:, 0], contour[:1, 0]]).astype(np.float64)
        dashes += _dashes(closed, on=12.0 * canvas.line_px, off=12.0 * canvas.line_px)
    _stroke(canvas.rgb, dashes, colour=WHITE, width_px=canvas.line_px)


def _draw_hotspot(canvas: _Canvas, hotspot: Hotspot) -> None:
    x, y = canvas.xy(np.array([[hotspot.row, hotspot.column]]))[0]
    angle = np.linspace(0.0, 2 * np.pi, 181)
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * hotspot.radius_px * canvas.zoom + (x, y)
    arm = 6.0 * canvas.line_px
    cross = [np.array([[x - arm, y], [x + arm, y]]), np.array([[x, y - arm], [x, y + arm]])]
    _stroke(canvas.rgb, [ring, *cross], colour=YELLOW, width_px=2 * canvas.line_px)


def _draw_lamp_places(canvas: _Canvas, places: NDArray[np.float64]) -> None:
    """A small cross wherever the lamp's reflection was in a frame that was used."""
    arm = 4.0 * canvas.line_px
    crosses = []
    for x, y in canvas.xy(places):
        crosses += [np.array([[x - arm, y], [x + arm, y]]), np.array([[x, y - arm], [x, y + arm]])]
    _stroke(canvas.rgb, crosses, colour=YELLOW, width_px=canvas.line_px)


def _draw_spots(canvas: _Canvas, spots: Sequence[SpotDefect], *, px_per_mm: float) -> None:
    """Dust gets a diamond, a water spot a circle, each around its place."""
    outlines: list[NDArray[np.float64]] = []
    for spot in spots:
        corners = 4 if spot.kind == "dust" else 48
        angle = np.linspace(0.0, 2 * np.pi, corners + 1)
        radius = 0.5 * spot.diameter_mm * px_per_mm * canvas.zoom + 4.0 * canvas.line_px
        centre = canvas.xy(np.array([[spot.row, spot.column]]))[0]
        outlines.append(np.column_stack([np.cos(angle), np.sin(angle)]) * radius + centre)
    _stroke(canvas.rgb, outlines, colour=PINK, width_px=canvas.line_px)
