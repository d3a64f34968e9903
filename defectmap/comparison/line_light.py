"""Marks at one limit of line light: what both photographs are counted at.

The light of a line is its equivalent width times the light beside it. Where haze was polished off, the light
beside a mark falls and its equivalent width rises, though the mark is untouched; so a factor, from the two
halos at one exposure, brings the after photograph's widths to the light beside the before photograph's marks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.conditions import Evidence
from defectmap.comparison.halo import HaloDifference, haze_apart
from defectmap.comparison.settings_step import other_camera
from defectmap.comparison.tuning import HAZE_MOST_STOPS, SLOPE_ENDS, USUAL_SLOPE
from defectmap.panel.measurement import Mark, PanelMeasurement
from defectmap.panel.standard import by_standard
from defectmap.panel.tuning import STANDARD_UM, TYPICAL_PX_PER_MM

Factor = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def at_limit(measured: PanelMeasurement, *, limit_um: float = STANDARD_UM) -> tuple[Mark, ...]:
    """Marks of at least so much equivalent width along at least 1 mm.

    Parameters
    ----------
    measured : PanelMeasurement
        Its standard and fainter marks.
    limit_um : float, optional
        Limit; the standard mark if not given.

    Returns
    -------
    tuple of Mark
        A mark without widths at its points (from an older record) is taken whole if it is of the standard.
    """
    if limit_um == STANDARD_UM:
        return measured.marks
    kept = [mark for mark in measured.marks if not len(mark.um)]
    known = [mark for mark in (*measured.marks, *measured.faint_marks) if len(mark.um)]
    share = STANDARD_UM / limit_um
    scaled = [replace(mark, um=np.asarray(mark.um * share, np.float32)) for mark in known]
    mm = 1.0 if measured.scale.calibrated else TYPICAL_PX_PER_MM
    return (*kept, *by_standard(scaled, mm=mm)[0])


def mean_step(marks: Sequence[Mark], factor: Factor | None) -> float:
    """ln of what widths are multiplied by, the mean over the points of the marks; 0 without marks."""
    if factor is None or not marks:
        return 0.0
    return float(np.log(factor(np.concatenate([mark.points for mark in marks]))).mean())


def line_light_factor(before: Evidence, after: Evidence, halo: HaloDifference) -> Factor | None:
    """What brings the after photograph's widths to the light beside the before photograph's marks.

    Where haze changed (or the lamp's distance, and with it the light of bright paint), by the ratio of the
    halos at one exposure, at the same distance. Where a tone curve differs, by what grain says that it did to
    the contrast of lines; where grain says nothing, nothing is corrected: a curve for all light bends a width
    as far as itself, one that works locally leaves it or stretches it the other way.

    Parameters
    ----------
    before, after : Evidence
        Of the two photographs.

    Returns
    -------
    callable or None
        None where nothing differs, so that the figures are those of each photograph.
    """
    if halo.toned:
        if math.isnan(halo.contrast):
            return None
        return lambda points: np.full(len(points), math.exp(-halo.contrast))
    one_camera = not other_camera(before.facts, after.facts) and before.facts.hdr == after.facts.hdr
    if not (halo.hazed or haze_apart(before, after)) or not one_camera or not len(halo.at_mm):
        return None
    steps = np.clip(halo.beside_stops, -HAZE_MOST_STOPS, HAZE_MOST_STOPS)

    def factor(points: NDArray[np.float64]) -> NDArray[np.float64]:
        away = np.hypot(*(points - after.hotspot).T) / after.px_per_mm
        return np.asarray(2 ** np.interp(away, halo.at_mm, steps))

    return factor


def strength_slope(measured: PanelMeasurement) -> float:
    """Fall of ln(density) with ln(limit) at the standard: what a step of strength does to a density.

    The central difference of the spectrum of strength about the standard. Cutting the marks anew at another
    limit would not show it: pieces shorter than 1 mm, where a mark dips below the standard, are not kept.
    """
    below, at, above = (measured.strength.get(int(share * STANDARD_UM), 0.0) for share in (0.5, 1, 2))
    first, octaves = (
        (below, 2) if measured.detection_limit.equivalent_width_um <= 0.5 * STANDARD_UM else (at, 1)
    )
    if not (first > 0 and above > 0):
        return USUAL_SLOPE
    return float(np.clip(math.log(first / above) / (octaves * math.log(2)), *SLOPE_ENDS))


def common_limit_um(before: PanelMeasurement, after: PanelMeasurement) -> float | None:
    """The faintest width that both photographs show, where that is fainter than the standard."""
    limits = [one.detection_limit.equivalent_width_um for one in (before, after)]
    faintest = max(limits)
    if not all(math.isfinite(limit) and limit > 0 for limit in limits):
        return None
    return faintest if faintest < STANDARD_UM else None
