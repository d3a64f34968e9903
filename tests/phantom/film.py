"""A film of one spot while the lamp is moved: a hand-held camera, and where each frame lies on the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.phantom.grooves import Groove
from tests.phantom.scene import Phantom, photograph
from tests.phantom.setup import Panel, Shot
from tests.phantom.view import View


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """How lamp and hand move."""

    frames: int = 16
    path: Literal["to and fro", "straight", "circle"] = "to and fro"
    rows: int = 2  # how often the lamp goes across and back
    reach_mm: tuple[float, float] = (24.0, 34.0)  # of the hotspot from the middle, row and column
    tremor_mm: float = 1.5
    turn_deg: float = 0.6
    tilt: float = 0.0015  # spread of the two tilts, in half widths of the picture
    place_mm: tuple[float, float] = (0.0, 0.0)  # of the first frame on the panel, row, column
    seed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PhantomFilm:
    """Frames and their truth."""

    frames: list[NDArray[np.uint8]]  # (H, W, 3) sRGB
    to_first: list[NDArray[np.float64]]  # (3, 3) x, y
    shots: list[Phantom]
    px_per_mm: float


def film(
    grooves: Sequence[Groove], shot: Shot, sweep: Sweep | None = None, *, panel: Panel | None = None
) -> PhantomFilm:
    """Film a panel.

    Parameters
    ----------
    grooves : sequence of Groove
    shot : Shot
        Camera, exposure and height of the lamp; its place is the sweep's.
    sweep : Sweep, optional
    panel : Panel, optional
    """
    sweep = sweep or Sweep()
    rng = np.random.default_rng([sweep.seed, 11])
    hand = _tremor(rng, sweep.frames, 5)
    shots, warps = [], []
    for number, (row, column) in enumerate(_path(sweep)):
        offset = tuple(sweep.place_mm + sweep.tremor_mm * hand[number, :2])
        share = shot.camera_height_mm / (shot.camera_height_mm + shot.lamp_mm[2])
        # the hotspot lies between the feet of camera and lamp, at this share of the way from the camera
        lamp = (
            offset[0] + (row - offset[0]) / share,
            offset[1] + (column - offset[1]) / share,
            shot.lamp_mm[2],
        )
        taken = replace(
            shot,
            lamp_mm=lamp,
            offset_mm=offset,
            turn_deg=float(sweep.turn_deg * hand[number, 2]),
            seed=shot.seed + number,
            jpeg_quality=None,
        )
        shots.append(photograph(grooves, taken, panel=panel))
        warps.append(_tilt(shot.size_px, sweep.tilt * hand[number, 3:]))
    frames = [_warped(s.rgb, w) for s, w in zip(shots, warps, strict=True)]
    to_panel = [_to_panel(s.shot) @ np.linalg.inv(w) for s, w in zip(shots, warps, strict=True)]
    to_first = [np.linalg.inv(to_panel[0]) @ h for h in to_panel]
    return PhantomFilm(
        frames=frames, to_first=[h / h[2, 2] for h in to_first], shots=shots, px_per_mm=shot.px_per_mm
    )


def write_film(frames: Sequence[NDArray[np.uint8]], path: Path, *, fps: float = 15.0) -> None:
    """Write frames as MPEG-4, the coding that OpenCV writes everywhere."""
    height, width = frames[0].shape[:2]
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), fps, (width, height))
    for frame in frames:
        writer.write(cv2.cvtColor(frame, cv2.COLOR_RGB2BGR))
    writer.release()


def _path(sweep: Sweep) -> NDArray[np.float64]:
    """Hotspot places (row, column) in mm: to and fro from left to right, along the diagonal, or round."""
    along = np.linspace(0.0, 1.0, sweep.frames)
    down, right = sweep.reach_mm
    if sweep.path == "straight":
        return np.outer(2 * along - 1, (down, right))
    if sweep.path == "circle":
        turn = 2 * np.pi * sweep.rows * along
        return np.column_stack([down * np.sin(turn), right * np.cos(turn)])
    sway = np.sin(2 * np.pi * sweep.rows * along - np.pi / 2)
    return np.column_stack([down * sway, right * (2 * along - 1)])


def _tremor(rng: np.random.Generator, frames: int, freedoms: int) -> NDArray[np.float64]:
    """A slow wander with a standard deviation of 1, beginning at 0."""
    steps = rng.standard_normal((frames, freedoms))
    for number in range(1, frames):
        steps[number] = 0.8 * steps[number - 1] + 0.6 * steps[number]
    return np.asarray(steps - steps[0])


def _tilt(size_px: tuple[int, int], tilt: NDArray[np.float64]) -> NDArray[np.float64]:
    height, width = size_px
    unit = np.array([[2 / width, 0, -1], [0, 2 / width, -height / width], [0, 0, 1.0]])
    return np.asarray(np.linalg.inv(unit) @ np.array([[1, 0, 0], [0, 1, 0], [*tilt, 1.0]]) @ unit)


def _warped(rgb: NDArray[np.uint8], warp: NDArray[np.float64]) -> NDArray[np.uint8]:
    size = rgb.shape[1], rgb.shape[0]
    turned = cv2.warpPerspective(rgb, warp, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(turned, np.uint8)


def _to_panel(shot: Shot) -> NDArray[np.float64]:
    view = View(
        size_px=shot.size_px, px_per_mm=shot.px_per_mm, offset_mm=shot.offset_mm, turn_deg=shot.turn_deg
    )
    return np.vstack([view.matrix, [0, 0, 1]])
