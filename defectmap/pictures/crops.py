"""The same millimetres of panel before and after, side by side, under one exposure and one tone curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.common import AlignedPair
from defectmap.comparison.outcome import SpotComparison
from defectmap.panel.measurement import Mark
from defectmap.panel.photo.colour import linear_table, to_codes
from defectmap.panel.photo.photograph import Photo
from defectmap.words.remark import Remark

Pair = NDArray[np.float64]  # (row, column)
Centre = Literal["hotspot", "worst scratch"]
WHITE_SHARE = 0.98  # of the pixels outside the hotspots; that brightness is shown as BRIGHT
MAX_GAIN = 16.0
LIFT = 10.0  # how far the curve lifts the dark; linear light at 0. By eye, on black and white paint
SMALLEST = 0.2  # of the side that is wanted: photographs that share less are shown as they are
CORNERS = np.array([[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]])  # three, and the last
BRIGHT = 0.4  # linear light that the brightest part of the halo is brought to


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CropPair:
    """Two pictures of one piece of panel."""

    before: NDArray[np.uint8]  # (N, N, 3) sRGB, scale bar drawn in
    after: NDArray[np.uint8]  # the same size, the same millimetres
    side_mm: float
    gain: float  # what linear light was multiplied by, in both
    remark: Remark  # what to know of the two


def crop_pair(
    before: Photo,
    after: Photo,
    spot: SpotComparison,
    *,
    centre: Centre = "hotspot",
    side_px: int = 640,
    inches: bool = False,
) -> CropPair:
    """Cut the same piece of panel out of both photographs.

    A square of ten hotspot radii, five about a scratch; less where no such square lies in both photographs: a
    strip that one of them has not would be black.

    Parameters
    ----------
    before, after : Photo
        Of the spot.
    spot : SpotComparison
        How they lie on each other.
    centre : {"hotspot", "worst scratch"}, optional
        The before photograph's hotspot, or the middle of its longest scratch (longest mark without one).
    side_px : int, optional
        Side of each picture.
    inches : bool, optional
        Whether the scale bar is in inches.

    Returns
    -------
    CropPair
        One gain and one tone curve for both: brightness may be compared between them.
    """
    overlay = AlignedPair(before=spot.before, after=spot.after, alignment=spot.alignment)
    radius_mm = spot.before.hotspot.radius_px / spot.before.scale.px_per_mm
    side = radius_mm * (10 if centre == "hotspot" else 5)
    half_px = side / 2 * spot.before.scale.px_per_mm
    shapes = (before.rgb.shape, after.rgb.shape)
    middle, half_px = _within_both(
        _inside(_middle(spot, centre), half_px, shapes[0]), half_px, overlay, shapes
    )
    side = 2 * half_px / spot.before.scale.px_per_mm
    corners = middle + CORNERS[:3] * half_px
    cut = [
        _cut(photo, points, side_px)
        for photo, points in ((before, corners), (after, overlay.to_after_px(corners)))
    ]
    gain = _gain(cut)
    drawn = [_shown(light, gain) for light in cut]
    _scale_bars(drawn, spot, side_px / side, inches=inches)
    code = "one exposure" if spot.alignment.sure else "laid by hotspots"
    return CropPair(
        before=drawn[0],
        after=drawn[1],
        side_mm=side,
        gain=gain,
        remark=Remark(code=code, values={"gain": gain}),
    )


def side_by_side(pair: CropPair, *, gap_px: int = 8) -> NDArray[np.uint8]:
    """Both pictures in one, before on the left, with a grey gap."""
    gap = np.full((pair.before.shape[0], gap_px, 3), 128, dtype=np.uint8)
    return np.hstack([pair.before, gap, pair.after])


def worst_mark(marks: tuple[Mark, ...]) -> Mark | None:
    """The longest scratch, or the longest mark where no scratch was found."""
    scratches = [mark for mark in marks if mark.kind == "scratch"]
    return max(scratches or marks, key=lambda mark: mark.length_mm, default=None)


def _middle(spot: SpotComparison, centre: Centre) -> NDArray[np.float64]:
    hotspot = np.array([spot.before.hotspot.row, spot.before.hotspot.column])
    mark = worst_mark(spot.before.marks) if centre == "worst scratch" else None
    return hotspot if mark is None else np.asarray(mark.points[len(mark.points) // 2], dtype=np.float64)


def _inside(middle: NDArray[np.float64], half_px: float, shape: tuple[int, ...]) -> NDArray[np.float64]:
    """Move the square into the picture where it fits."""
    size = np.array(shape[:2], dtype=np.float64) - 1
    low, high = np.full(2, half_px), size - half_px
    return np.where(low <= high, np.clip(middle, low, np.maximum(low, high)), size / 2)


def _within_both(
    middle: Pair, half_px: float, overlay: AlignedPair, shapes: tuple[tuple[int, ...], tuple[int, ...]]
) -> tuple[Pair, float]:
    """Middle and half side of the nearest square that both photographs hold whole; smaller where none is."""

    def held(at: Pair, half: float) -> bool:
        before = at + CORNERS * half
        return all(
            bool(np.all((points >= 0) & (points <= np.array(shape[:2]) - 1)))
            for points, shape in zip((before, overlay.to_after_px(before)), shapes, strict=True)
        )

    common = _common_middle(overlay, shapes)
    if common is None or held(middle, half_px):
        return middle, half_px
    half = half_px
    while not held(common, half) and half > SMALLEST * half_px:
        half *= 0.95
    # What both hold is convex, so on the way to its middle the square comes to lie in it, and stays.
    out, into = 0.0, 1.0
    for _ in range(12):
        share = (out + into) / 2
        inside = held(middle + share * (common - middle), half)
        out, into = (out, share) if inside else (share, into)
    return middle + into * (common - middle), half


def _common_middle(overlay: AlignedPair, shapes: tuple[tuple[int, ...], tuple[int, ...]]) -> Pair | None:
    """The middle, in the before photograph, of what both hold; None where that is nothing."""
    rows, columns = (np.linspace(0, size - 1, 33) for size in shapes[0][:2])
    points = np.stack(np.meshgrid(rows, columns, indexing="ij"), axis=-1).reshape(-1, 2)
    after = overlay.to_after_px(points)
    there = np.all((after >= 0) & (after <= np.array(shapes[1][:2]) - 1), axis=1)
    return points[there].mean(axis=0) if there.any() else None


def _cut(photo: Photo, corners: NDArray[np.float64], side_px: int) -> NDArray[np.float32]:
    """Linear light of the square with these upper left, upper right and lower left corners (row, column)."""
    import cv2

    target = np.array([[0, 0], [side_px, 0], [0, side_px]], dtype=np.float32) - 0.5
    source = np.ascontiguousarray(corners[:, ::-1], dtype=np.float32)
    warp = cv2.getAffineTransform(target, source)
    shrink = float(np.hypot(*(corners[1] - corners[0]))) / side_px
    linear = _decoded(photo.rgb, corners)
    if shrink > 1:  # average before sampling, or fine marks come and go with the grid
        linear = np.asarray(cv2.GaussianBlur(linear, (0, 0), 0.5 * shrink), dtype=np.float32)
    offset = _window(corners, photo.rgb.shape)[:2]
    warp[:, 2] -= (offset[1], offset[0])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    cut = cv2.warpAffine(linear, warp, (side_px, side_px), flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cut, dtype=np.float32)


def _window(corners: NDArray[np.float64], shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Top, left, bottom, right of the pixels that the square needs, inside the picture."""
    fourth = corners[1] + corners[2] - corners[0]
    every = np.vstack([corners, fourth])
    top, left = np.clip(np.floor(every.min(axis=0)) - 8, 0, np.array(shape[:2]) - 2).astype(int)
    bottom, right = np.clip(np.ceil(every.max(axis=0)) + 8, [top + 2, left + 2], shape[:2]).astype(int)
    return int(top), int(left), int(bottom), int(right)


def _decoded(rgb: NDArray[np.uint8], corners: NDArray[np.float64]) -> NDArray[np.float32]:
    """Linear light (IEC 61966-2-1) of the window about the square."""
    top, left, bottom, right = _window(corners, rgb.shape)
    return linear_table(255)[rgb[top:bottom, left:right]]


def _gain(cut: list[NDArray[np.float32]]) -> float:
    """One exposure for both, from both."""
    light = np.concatenate([np.maximum.reduce([p[..., i].ravel() for i in range(3)]) for p in cut])
    open_light = light[(light < 0.95) & (light > 0)]
    if not len(open_light):
        return 1.0
    return float(np.clip(BRIGHT / max(float(np.quantile(open_light, WHITE_SHARE)), 1e-4), 1.0, MAX_GAIN))


def _shown(light: NDArray[np.float32], gain: float) -> NDArray[np.uint8]:
    """Codes of the screen; one curve lifts dark paint, where marks show, and holds the halo down."""
    bright = np.arcsinh(LIFT * np.clip(light * gain, 0, 1)) / np.arcsinh(LIFT)
    return np.asarray(np.round(255 * to_codes(bright)), dtype=np.uint8)


def _scale_bars(
    pictures: list[NDArray[np.uint8]], spot: SpotComparison, px_per_unit: float, *, inches: bool
) -> None:
    from defectmap.pictures.legend import draw_scale_bar

    for picture in pictures:
        draw_scale_bar(picture, px_per_unit=px_per_unit, scale=spot.before.scale, inches=inches)
