"""Lay the after photograph on the before photograph: which turn, shift and scale, and how sure that is.

The hotspots are laid on each other first. They move with lamp and camera, so the paint decides where it can:
marks that outlast the correction (with their directions), else the fine texture between them (orange peel,
flake), by the cross-correlation of two views (`defectmap.comparison.view`) over all shifts, turns and scales.
How sure a place is, is the height of the correlation's peak over that of the next best place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison import tuning
from defectmap.comparison.layers import Layers, Map, halved, held_layers, rotation, shifts, spectrum, warped
from defectmap.comparison.view import PanelView

AlignedBy = Literal["marks", "texture", "hotspot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alignment:
    """Where a point of the after photograph lies in the before photograph, both in mm about their hotspots.

    before = scale · R(turn) · after + shift, with (down, right) components.
    """

    by: AlignedBy
    sureness: float  # peak over the next best place; 0 where only the hotspot was used
    marks_sureness: float
    texture_sureness: float
    turn_deg: float = 0.0
    down_mm: float = 0.0
    right_mm: float = 0.0
    scale: float = 1.0  # of the after photograph against what its px/mm says

    @property
    def sure(self) -> bool:
        """Whether the paint itself says that both photographs show one place."""
        return self.by != "hotspot"

    def to_before(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 2) points about the after hotspot, as seen about the before hotspot, mm."""
        down, right = self.scale * _turned(points_mm, self.turn_deg)
        return np.column_stack([down + self.down_mm, right + self.right_mm])

    def to_after(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Turn `to_before` round."""
        about = points_mm - [self.down_mm, self.right_mm]
        return _turned(about, -self.turn_deg).T / self.scale


@dataclass(frozen=True, slots=True, kw_only=True)
class _Peak:
    """Best place found among some turns and scales."""

    turn_deg: float
    scale: float
    down_cells: float
    right_cells: float
    sureness: float


def align(before: PanelView, after: PanelView, *, calibrated: bool = True) -> Alignment:
    """Find how the after photograph lies on the before photograph.

    Parameters
    ----------
    before, after : PanelView
        On grids with the same cells.
    calibrated : bool, optional
        Whether both scales are known; if not, scales further from 1 are tried too.

    Returns
    -------
    Alignment
        `by` is "hotspot", turn 0 and shift 0, where neither marks nor texture are sure.
    """
    scales = tuning.SCALES if calibrated else tuning.WIDE_SCALES
    by_marks = None
    if min(before.line_pieces, after.line_pieces) >= tuning.MIN_PIECES:
        by_marks = search(before.lines, after.lines, scales=scales)
    if by_marks is not None and by_marks.sureness >= tuning.ALIGN_SURE:
        by_marks = _refined(before.lines, after.lines, by_marks)
        return _alignment("marks", by_marks, None, before.cells_per_mm)
    by_texture = search(before.texture, after.texture, scales=scales)
    if by_texture is not None and by_texture.sureness >= tuning.SURE_TEXTURE:
        by_texture = _refined(before.texture, after.texture, by_texture)
        return _alignment("texture", by_marks, by_texture, before.cells_per_mm)
    return _alignment("hotspot", by_marks, by_texture, before.cells_per_mm)


def _alignment(by: AlignedBy, marks: _Peak | None, texture: _Peak | None, cells_per_mm: float) -> Alignment:
    found = {"marks": marks, "texture": texture, "hotspot": None}[by]
    marks_sureness = marks.sureness if marks else 0.0
    texture_sureness = texture.sureness if texture else 0.0
    if found is None:
        return Alignment(
            by=by, sureness=0.0, marks_sureness=marks_sureness, texture_sureness=texture_sureness
        )
    return Alignment(
        by=by,
        sureness=found.sureness,
        marks_sureness=marks_sureness,
        texture_sureness=texture_sureness,
        turn_deg=found.turn_deg,
        down_mm=found.down_cells / cells_per_mm,
        right_mm=found.right_cells / cells_per_mm,
        scale=found.scale,
    )


def search(fixed: Map, moving: Map, *, scales: Iterable[float]) -> _Peak | None:
    """Coarse search at half resolution, first at the scales as given."""
    if not (fixed.any() and moving.any()):
        return None
    others = tuple(scale for scale in scales if scale != 1.0)
    held = held_layers(fixed, moving, turn_deg=max(tuning.TURNS_DEG), scale=max((1.0, *others)))
    coarse = halved(held[0]), halved(held[1])
    plain = _best(coarse, tuning.TURNS_DEG, (1.0,), reach=tuning.SEARCH_CELLS / 2)
    if not others or plain.sureness >= tuning.PLAIN_SURE:
        return _moved(plain, 2.0)
    return _moved(_best(coarse, tuning.TURNS_DEG, (1.0, *others), reach=tuning.SEARCH_CELLS / 2), 2.0)


def _refined(fixed: Map, moving: Map, near: _Peak) -> _Peak:
    """Finer turns and scales at full resolution, then the peak between cells; keeps the coarse sureness."""
    reach = max(abs(near.down_cells), abs(near.right_cells)) + 2 * tuning.SAME_PEAK_CELLS
    held = held_layers(
        fixed,
        moving,
        turn_deg=abs(near.turn_deg) + tuning.FINE_ROOM[0],
        scale=near.scale + tuning.FINE_ROOM[1],
    )
    turns = [near.turn_deg + step for step in tuning.FINE_TURNS_DEG]
    best = _best(held, turns, (near.scale,), reach=reach)
    scales = [near.scale + step for step in tuning.FINE_SCALES]
    best = _best(held, (best.turn_deg,), scales, reach=reach)
    turns = [best.turn_deg + step for step in tuning.FINEST_TURNS_DEG]
    best = _best(held, turns, (best.scale,), reach=reach)
    return _Peak(
        turn_deg=best.turn_deg,
        scale=best.scale,
        down_cells=best.down_cells,
        right_cells=best.right_cells,
        sureness=near.sureness,
    )


def _best(
    views: tuple[Layers, Layers], turns_deg: Iterable[float], scales: Iterable[float], *, reach: float
) -> _Peak:
    """Highest peak over turns and scales, against the spread of all surfaces away from it."""
    import cv2

    fixed, moving = views
    poses = [(turn, scale) for scale in scales for turn in turns_deg]
    size = tuple(cv2.getOptimalDFTSize(side + int(reach) + 1) for side in fixed.shape[:2])
    still, energy = spectrum(fixed, size), float(np.linalg.norm(fixed))
    surfaces = []
    for turn, scale in poses:
        laid = warped(moving, turn, scale)
        product = cv2.mulSpectrums(still, spectrum(laid, size), 0, conjB=True)
        meeting = cv2.dft(product, flags=cv2.DFT_INVERSE | cv2.DFT_SCALE)
        norm = max(energy * float(np.linalg.norm(laid)), 1e-9)
        surfaces.append(_sharp(shifts(np.asarray(meeting, dtype=np.float32), int(reach), turn) / norm))
    stack = np.stack(surfaces)
    pose, row, column = np.unravel_index(int(stack.argmax()), stack.shape)
    down, right = _between_cells(stack[pose], int(row), int(column))
    height = float(stack[pose, row, column])
    elsewhere = stack[:, _away(stack.shape[1:], int(row), int(column))]
    return _Peak(
        turn_deg=poses[pose][0],
        scale=poses[pose][1],
        down_cells=down - int(reach),
        right_cells=right - int(reach),
        sureness=height / max(float(elsewhere.max()), 1e-9)
        if height > tuning.MIN_PEAK * elsewhere.std()
        else 0.0,
    )


def _sharp(surface: NDArray[np.float32]) -> NDArray[np.float32]:
    """The surface without its broad part."""
    import cv2

    return np.asarray(surface - cv2.GaussianBlur(surface, (0, 0), tuning.PEDESTAL_CELLS), dtype=np.float32)


def _away(shape: tuple[int, ...], row: int, column: int) -> NDArray[np.bool_]:
    """Shifts outside the peak's surroundings."""
    away = np.ones(shape, dtype=np.bool_)
    rows = slice(max(0, row - tuning.SAME_PEAK_CELLS), row + tuning.SAME_PEAK_CELLS + 1)
    columns = slice(max(0, column - tuning.SAME_PEAK_CELLS), column + tuning.SAME_PEAK_CELLS + 1)
    away[rows, columns] = False
    return away


def _between_cells(surface: NDArray[np.float32], row: int, column: int) -> tuple[float, float]:
    """Top of the parabola through the peak and its neighbours, along each axis."""

    def offset(below: float, top: float, above: float) -> float:
        bend = below - 2 * top + above
        return 0.5 * (below - above) / bend if bend < 0 else 0.0

    last_row, last_column = surface.shape[0] - 1, surface.shape[1] - 1
    if not (0 < row < last_row and 0 < column < last_column):
        return float(row), float(column)
    top = float(surface[row, column])
    down = offset(float(surface[row - 1, column]), top, float(surface[row + 1, column]))
    right = offset(float(surface[row, column - 1]), top, float(surface[row, column + 1]))
    return row + down, column + right


def _turned(points: NDArray[np.float64], turn_deg: float) -> NDArray[np.float64]:
    """(2, N) components of (N, 2) points after a turn; written out, as a product with a 2 by 2 is slow."""
    (a, b), (c, d) = rotation(turn_deg)
    return np.stack([a * points[:, 0] + b * points[:, 1], c * points[:, 0] + d * points[:, 1]])


def _moved(peak: _Peak, factor: float) -> _Peak:
    """Express a peak of a coarser grid in cells of the finer one."""
    return _Peak(
        turn_deg=peak.turn_deg,
        scale=peak.scale,
        down_cells=peak.down_cells * factor,
        right_cells=peak.right_cells * factor,
        sureness=peak.sureness,
    )
