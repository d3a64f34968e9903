"""Lay the map of one film on that of another, by the lines that are in both."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.align import Alignment
from defectmap.film import tuning
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.chaining import chance, fit
from defectmap.film.coarse import Search, guesses
from defectmap.film.homography import Field, Homography, transform
from defectmap.film.joining import on_paths
from defectmap.film.lines import OrientedPoints
from defectmap.panel.measurement import Hotspot
from defectmap.panel.tuning import STANDARD_UM


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmPose:
    """Where the after map lies on the before map."""

    to_before: Homography  # px of the after map to px of the before map
    share: float  # of the after film's lines that lie on one before
    chance: float  # the same where the films are laid wrong on purpose
    lines: int  # with marks, of the film that shows fewer

    @property
    def sureness(self) -> float:
        """How many times more lines meet than by chance."""
        return self.share / max(self.chance, tuning.LEAST_CHANCE)

    @property
    def sure(self) -> bool:
        """Whether the paint itself says that both films show one place."""
        return self.lines >= tuning.LEAST_LINES and self.sureness >= tuning.SURE_OVERLAY


def lay(before: FilmMeasurement, after: FilmMeasurement) -> FilmPose:
    """Find where the after map lies on the before map; marks that are gone or new do not matter."""
    fixed, moving = _strong_lines(before), _strong_lines(after)
    shape = before.panel.zone.shape
    few = min(_line_count(before), _line_count(after))
    if few < tuning.LEAST_LINES:
        return FilmPose(to_before=np.eye(3), share=0.0, chance=1.0, lines=few)
    wide = after.window_scale / before.window_scale
    first = np.diag([1 / wide, 1 / wide, 1.0])
    found: FilmPose | None = None
    for scales in ((1.0,), tuning.WIDE_SCALES):
        search = Search(
            reach_px=round(tuning.WIDE_REACH_MM * before.window_scale),
            turns_deg=tuning.WIDE_TURNS_DEG,
            scales=scales,
            cell_px=tuning.WIDE_COARSE_PX,
        )
        tried = [
            fit(near, moving, fixed, field=Field.of(shape), spread=tuning.PLACED_BY_HAND_SPREAD)
            for near in guesses(first, moving, fixed, shape=(shape[0], shape[1]), search=search)
        ]
        pose, share = max(tried, key=lambda one: one[1])
        found = FilmPose(to_before=pose, share=share, chance=chance(pose, moving, fixed), lines=few)
        if found.sure:
            break
    assert found is not None
    return found


def _strong_lines(film: FilmMeasurement) -> OrientedPoints:
    lines = on_paths(film.lines.paths)
    strong = np.flatnonzero(np.abs(film.lines.um).max(axis=0, initial=0.0) >= STANDARD_UM)[
        :: tuning.OVERLAY_STEP_PX
    ]
    return OrientedPoints(at=lines.at[strong], along=lines.along[strong])


def _line_count(film: FilmMeasurement) -> int:
    strong = np.abs(film.lines.um).max(axis=0, initial=0.0) >= STANDARD_UM
    return len(np.unique(film.lines.paths.owner[strong]))


def as_alignment(overlay: FilmPose, before: FilmMeasurement, after: FilmMeasurement) -> Alignment:
    """The overlay in the terms of two photographs: turn, scale, and shift about the hotspots."""
    one, other = before.panel, after.panel
    middle = _xy(other.hotspot)
    steps = transform(overlay.to_before, middle + np.array([[0.0, 0], [1, 0], [0, 1]]))
    jacobian = np.column_stack([steps[1] - steps[0], steps[2] - steps[0]])
    grown = math.sqrt(abs(float(np.linalg.det(jacobian))))
    turn = math.atan2(jacobian[1, 0] - jacobian[0, 1], jacobian[0, 0] + jacobian[1, 1])
    right, down = (steps[0] - _xy(one.hotspot)) / one.scale.px_per_mm
    return Alignment(
        by="marks" if overlay.sure else "hotspot",
        sureness=overlay.sureness,
        marks_sureness=overlay.sureness,
        texture_sureness=0.0,
        turn_deg=-math.degrees(turn),  # there it adds to the azimuth, which counts from right towards up
        down_mm=float(down),
        right_mm=float(right),
        scale=grown * other.scale.px_per_mm / one.scale.px_per_mm,
    )


def _xy(spot: Hotspot) -> NDArray[np.float64]:
    return np.array([spot.column, spot.row])
