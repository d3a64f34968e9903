"""Find the printed scale card in a picture: its markers, its pose, the scale where it lies.

The search runs on a thinned picture, because most photographs show no card; only the corners of what was
found are measured in the full one. The pose is a pinhole camera's, whose axis meets the picture's middle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.panel import tuning
from defectmap.panel.card import (
    DICTIONARY,
    MARKER_CELLS,
    MARKER_IDS,
    MARKER_MM,
    marker_corners_mm,
    outline_mm,
)

Points = NDArray[np.float64]

_OUTWARDS = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])  # of a marker's corners, x, y


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPose:
    """Where the card lies and how it is seen."""

    px_per_mm: (
        float  # root of the area scale, so that areas and, on average over directions, lengths are right
    )
    tilt_deg: float
    outline: Points  # (4, 2) row, column: the card and a margin; may reach beyond the picture
    markers: int
    scale_spread: float  # largest over smallest scale within the picture, minus 1


def find_card(
    rgb: NDArray[np.uint8], luminance: NDArray[np.float32], *, focal_px: float | None = None
) -> CardPose | None:
    """Find the scale card.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 ndarray
        Picture in which markers are looked for.
    luminance : (H, W) float32 ndarray
        The same picture in linear light, in which blur moves no edge.
    focal_px : float, optional
        Focal length in pixels; estimated from the card where it is not known.

    Returns
    -------
    CardPose or None
        None where no marker of the card is seen, or those seen do not lie on one flat card.
    """
    seen = _detect(rgb)
    if not seen:
        return None
    corners = np.concatenate([_refined(luminance, marker) for marker in seen.values()])
    printed = np.array([marker_corners_mm()[number] for number in seen])
    pose = _pose_without_ink_spread(printed, corners, rgb.shape[:2], focal_px)
    side_px = min(float(np.linalg.norm(np.diff(marker, axis=0), axis=1).min()) for marker in seen.values())
    if pose is None or pose.residual_px > max(1.0, tuning.CARD_MOST_RESIDUAL * side_px):
        return None
    return _described(pose, printed.reshape(-1, 2), rgb.shape[:2], markers=len(seen))


@lru_cache(maxsize=1)
def _detector() -> Any:
    import cv2

    fewer = cv2.aruco.DetectorParameters()
    fewer.adaptiveThreshWinSizeMin = tuning.CARD_LEAST_WINDOW_PX
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY)), fewer)


def _detect(rgb: NDArray[np.uint8]) -> dict[int, Points]:
    """Corners x, y of the card's markers, as the thinned picture shows them, in pixels of the full one."""

    step = max(1, math.ceil(max(rgb.shape[:2]) / tuning.CARD_SEARCH_SIDE_PX))
    thinned = np.ascontiguousarray(rgb[::step, ::step, 1])  # black on white is as clear in green as in grey
    corners, numbers, _ = _detector().detectMarkers(thinned)
    if numbers is None:
        return {}
    found = zip(numbers.ravel().tolist(), corners, strict=True)
    return {
        number: points.reshape(4, 2).astype(float) * step for number, points in found if number in MARKER_IDS
    }


def _refined(luminance: NDArray[np.float32], corners: Points) -> Points:
    """Corners of one marker as the crossings of straight lines laid through its four edges."""
    first = np.maximum(corners.min(axis=0) - np.ptp(corners, axis=0) / 2 - 4, 0).astype(int)
    last = (corners.max(axis=0) + np.ptp(corners, axis=0) / 2 + 4).astype(int)
    light = luminance[
        first[1] : last[1], first[0] : last[0]
    ]  # OpenCV samples pictures up to 32767 px wide only
    corners = corners - first
    for _ in range(2):  # the second time from a better start
        middle, sides = corners.mean(axis=0), zip(corners, np.roll(corners, -1, axis=0), strict=True)
        lines = [_edge_line(light, start, end, middle) for start, end in sides]
        crossings = np.array([_crossing(lines[side - 1], lines[side]) for side in range(4)])
        moved_px = np.linalg.norm(crossings - corners, axis=1).max()
        if not moved_px < 2 * _reach_px(float(np.linalg.norm(corners[1] - corners[0]))):
            break  # the edges do not show well enough: keep what the search saw
        corners = crossings
    refined: Points = corners + first
    return refined


def _pose_without_ink_spread(
    printed: NDArray[np.float64], corners: Points, shape: tuple[int, int], focal_px: float | None
) -> _Pose | None:
    """The pose with markers as large as their ink made them; a first one takes spread of ink for tilt."""
    middle, diagonal = ((shape[1] - 1) / 2, (shape[0] - 1) / 2), math.hypot(*shape)
    pose = _best_pose(printed.reshape(-1, 2), corners, middle, diagonal, focal_px)
    for _ in range(2):
        if pose is None or len(printed) < 2:
            return pose
        spread_mm = _ink_spread_mm(_to_card(pose.plane, corners).reshape(-1, 4, 2), printed)
        on_card = (printed + spread_mm * _OUTWARDS).reshape(-1, 2)
        pose = _best_pose(on_card, corners, middle, diagonal, focal_px)
    return pose


def _ink_spread_mm(seen: NDArray[np.float64], printed: NDArray[np.float64]) -> float:
    """How far each printed edge has moved outwards, from the markers' widths against the steps between them.

    Both run along the card, so the camera's tilt stretches them alike: along it, a corner is at
    a + s (centre of its marker + side (half a marker + spread)), side being -1 or 1.
    """
    side = np.broadcast_to(_OUTWARDS[:, 0], seen.shape[:2])
    centre = np.broadcast_to(printed[:, :, 0].mean(axis=1, keepdims=True), seen.shape[:2])
    terms = np.stack([np.ones(side.shape), centre, side], axis=-1).reshape(-1, 3)
    _, stretch, half_mm = np.linalg.lstsq(terms, seen[:, :, 0].ravel(), rcond=None)[0]
    spread_mm = half_mm / stretch - MARKER_MM / 2
    return float(np.clip(spread_mm, -tuning.CARD_MOST_INK_MM, tuning.CARD_MOST_INK_MM))


def _reach_px(side_px: float) -> float:
    """How far across an edge to look: the black border and the white around are one cell wide."""
    return max(tuning.CARD_REACH_PX, tuning.CARD_REACH_CELLS * side_px / MARKER_CELLS)


def _edge_line(light: NDArray[np.float32], start: Points, end: Points, middle: Points) -> Points:
    """A point and a direction of the edge from start to end, x, y: (2, 2).

    Each profile across the edge, from the marker's black border to the white around, gives one point of it.
    """
    import cv2

    length_px = float(np.linalg.norm(end - start))
    along = (end - start) / length_px
    outwards = np.array((along[1], -along[0]))
    if np.dot(outwards, (start + end) / 2 - middle) < 0:
        outwards = -outwards
    reach = _reach_px(length_px)
    offsets = np.linspace(-reach, reach, 1 + 2 * math.ceil(2 * reach))
    feet = start + np.linspace(*tuning.CARD_EDGE_FEET)[:, np.newaxis] * (end - start)
    x, y = np.moveaxis((feet[:, np.newaxis] + offsets[:, np.newaxis] * outwards).astype(np.float32), 2, 0)
    profiles = cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    # where the step stands follows from how much of the profile is white, which is linear in the noise (the
    # centre of mass of the slope is not: it was 4 px off in noise of 2 %)
    outer = math.ceil(len(offsets) / tuning.CARD_EDGE_ENDS)
    black, white = profiles[:, :outer].mean(axis=1), profiles[:, -outer:].mean(axis=1)
    step = np.maximum(white - black, 1e-9)
    shift = offsets[-1] - (profiles - black[:, np.newaxis]).mean(axis=1) / step * 2 * reach
    good = (step > 0.5 * np.median(step)) & (np.abs(shift - np.median(shift)) < tuning.CARD_EDGE_ODD_PX)
    points = feet[good] + shift[good, np.newaxis] * outwards
    if len(points) < 4:
        return np.array((start, along))
    centre = points.mean(axis=0)
    return np.array((centre, np.linalg.svd(points - centre)[2][0]))


def _crossing(first: Points, second: Points) -> Points:
    steps = np.linalg.lstsq(np.array((first[1], -second[1])).T, second[0] - first[0], rcond=None)[0]
    crossing: Points = first[0] + steps[0] * first[1]
    return crossing


@dataclass(frozen=True, slots=True)
class _Pose:
    """Card to picture for one focal length; `plane` takes card x, y, 1 in mm to x w, y w, w."""

    plane: NDArray[np.float64]
    tilt_deg: float
    residual_px: float


def _best_pose(
    on_card: Points, corners: Points, middle: tuple[float, float], diagonal: float, focal_px: float | None
) -> _Pose | None:
    """The pose with the least misfit, and where the focal length is unknown, the likeliest of those."""
    if focal_px is not None:
        return _pose(on_card, corners, middle, focal_px)
    best: tuple[float, float, _Pose] | None = None
    for span in (np.geomspace(*tuning.FOCAL_TRIES), np.linspace(*tuning.FOCAL_NEAR)):
        around = 1.0 if best is None else best[1]
        for share in span * around:
            pose = _pose(on_card, corners, middle, share * diagonal)
            if pose is None:
                continue
            misfit = corners.size * (pose.residual_px / tuning.CARD_CORNER_NOISE_PX) ** 2
            cost = misfit + (math.log(share / tuning.USUAL_FOCAL) / tuning.FOCAL_SPREAD) ** 2
            if best is None or cost < best[0]:
                best = (cost, float(share), pose)
    return best[2] if best else None


def _pose(on_card: Points, corners: Points, middle: tuple[float, float], focal_px: float) -> _Pose | None:
    import cv2

    camera = np.array([[focal_px, 0, middle[0]], [0, focal_px, middle[1]], [0, 0, 1]])
    flat = np.column_stack([on_card, np.zeros(len(on_card))])
    poses: list[_Pose] = []
    _, turns, shifts, _ = cv2.solvePnPGeneric(flat, corners, camera, None, flags=cv2.SOLVEPNP_IPPE)
    for turn, shift in zip(turns, shifts, strict=True):
        turn, shift = cv2.solvePnPRefineLM(flat, corners, camera, None, turn, shift)
        rotation = cv2.Rodrigues(turn)[0]
        plane = camera @ np.column_stack([rotation[:, :2], shift])
        ends = np.column_stack([on_card, np.ones(len(on_card))]) @ plane.T
        if (ends[:, 2] <= 0).any() or not np.isfinite(ends).all():
            continue
        residual = float(np.sqrt(np.mean((ends[:, :2] / ends[:, 2:] - corners) ** 2)))
        poses.append(_Pose(plane, math.degrees(math.acos(min(1.0, abs(rotation[2, 2])))), residual))
    return min(poses, key=lambda pose: pose.residual_px, default=None)


def _described(pose: _Pose, on_card: Points, shape: tuple[int, int], *, markers: int) -> CardPose:
    height, width = shape
    centre = on_card.mean(axis=0)
    here = _scale_at(pose.plane, centre)
    frame = np.array([(0, 0), (width - 1, 0), (width - 1, height - 1), (0, height - 1)], float)
    scales = [_scale_at(pose.plane, point) for point in _to_card(pose.plane, frame)]
    # markers far apart carry the scale to the middle of the picture; a pair or a single one does not
    spread_mm = float(np.ptp(on_card, axis=0).max())
    if spread_mm > tuning.CARD_WIDE_APART_MM and all(scales):
        here = _scale_at(pose.plane, _to_card(pose.plane, np.array([[(width - 1) / 2, (height - 1) / 2]]))[0])
    corners = np.column_stack([outline_mm(tuning.CARD_MARGIN_MM), np.ones(4)]) @ pose.plane.T
    return CardPose(
        px_per_mm=here,
        tilt_deg=pose.tilt_deg,
        outline=(corners[:, :2] / corners[:, 2:])[:, ::-1],
        markers=markers,
        scale_spread=max(scales) / min(scales) - 1 if all(scales) else math.inf,
    )


def _scale_at(plane: NDArray[np.float64], point_mm: Points) -> float:
    """Root of the area scale at a point of the card's plane, px per mm; 0 beyond the horizon.

    The Jacobian of a plane-to-plane projection has determinant det(H) / w^3, w its third coordinate.
    """
    depth = float(plane[2] @ (*point_mm, 1.0))
    return math.sqrt(abs(float(np.linalg.det(plane))) / depth**3) if depth > 0 else 0.0


def _to_card(plane: NDArray[np.float64], points_px: Points) -> Points:
    """Picture x, y to the card's plane, mm."""
    ends = np.column_stack([points_px, np.ones(len(points_px))]) @ np.linalg.inv(plane).T
    back: Points = ends[:, :2] / ends[:, 2:]
    return back
