"""One spot before and after: laid on each other, checked, counted at one limit, estimated."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from defectmap.comparison.align import align
from defectmap.comparison.common import AlignedPair, CommonTables, common_tables
from defectmap.comparison.comparable import comparable, sides
from defectmap.comparison.conditions import Evidence, evidence
from defectmap.comparison.doubt import lamp_share, strength_doubt
from defectmap.comparison.figure_changes import density_change
from defectmap.comparison.halo import halo_difference
from defectmap.comparison.line_light import (
    at_limit,
    common_limit_um,
    line_light_factor,
    mean_step,
    strength_slope,
)
from defectmap.comparison.matching import sharpness, strength_step
from defectmap.comparison.outcome import Change, Comparability, FainterChange, Reason, SpotComparison
from defectmap.comparison.processing import processing_reasons
from defectmap.comparison.sampling import PairDoubt
from defectmap.comparison.setup_profile import SetupProfile
from defectmap.comparison.spots import spot_changes
from defectmap.comparison.tuning import SEEN_SHARE
from defectmap.comparison.view import cells_per_mm
from defectmap.panel.measurement import PanelMeasurement
from defectmap.panel.photo.photograph import Photo

FAINT_LOST = ("smoothed", "grain differs")  # reasons with which marks below the standard say nothing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shot:
    """A photograph and what was measured in it."""

    photo: Photo
    measured: PanelMeasurement


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pair:
    """One spot, compared, with what the joint figures need."""

    said: SpotComparison
    tables: CommonTables | None
    doubt: PairDoubt


def evidence_on(shot: Shot, grid: Shot) -> Evidence:
    """What a comparison needs of a shot, on the grid of another."""
    cells = cells_per_mm(grid.measured.hotspot, calibrated=grid.measured.scale.calibrated)
    return evidence(shot.photo, shot.measured, cells_per_mm=cells)


def laid(before: Shot, after: Shot, ground: Evidence) -> tuple[AlignedPair, Evidence]:
    """Lay the after photograph on the before photograph, whose evidence is `ground`."""
    other = evidence_on(after, before)
    calibrated = before.measured.scale.calibrated and after.measured.scale.calibrated
    pose = align(ground.view, other.view, calibrated=calibrated)
    return AlignedPair(before=before.measured, after=after.measured, alignment=pose), other


def compare_pair(before: Shot, after: Shot, ground: Evidence, setup: SetupProfile, seed: int) -> Pair:
    """Check, count and estimate one spot; `ground` is the before photograph's evidence."""
    overlay, other = laid(before, after, ground)
    halo = halo_difference(ground, other)
    shown = sides(ground, other)
    factor = line_light_factor(ground, other, halo)
    processed = any(processing_reasons(*shown, halo))
    alike = strength_step(overlay, factor)
    seen = alike if processed else None
    step = mean_step(after.measured.marks, factor) - (SEEN_SHARE * seen.step if seen else 0.0)
    slope = 0.5 * (strength_slope(before.measured) + strength_slope(after.measured))
    grown = math.exp(slope * step)
    tables = common_tables(overlay, grown=grown)
    area = tables.area_cm2 if tables else 0.0
    sharp = sharpness(overlay)
    verdict = comparable(ground, other, overlay.alignment, common_area_cm2=area, sharpness=sharp, seen=seen)
    strength = strength_doubt(*shown, halo, blur_steps=sharp.lost_steps if sharp else 0.0, seen=seen)
    calibrated = before.measured.scale.calibrated and after.measured.scale.calibrated
    doubt = PairDoubt(
        strength_log=slope * strength, lamp_share=lamp_share(overlay.alignment, calibrated=calibrated)
    )
    changes: tuple[Change, ...] = ()
    if verdict.verdict != "no" and tables is not None:
        changes = spot_changes(before.measured, after.measured, tables, setup=setup, doubt=doubt, seed=seed)
        if alike is not None and seen is None:
            verdict = Comparability(reasons=(*verdict.reasons, *evenly_changed(changes, slope * alike.step)))
    said = SpotComparison(
        before=before.measured,
        after=after.measured,
        alignment=overlay.alignment,
        comparable=verdict,
        common_area_cm2=area,
        changes=changes,
        fainter=_fainter(overlay, grown, doubt=doubt, setup=setup, seed=seed)
        if changes and not any(reason.code in FAINT_LOST for reason in verdict.reasons)
        else None,
    )
    return Pair(said=said, tables=tables, doubt=doubt)


def evenly_changed(changes: Sequence[Change], marks_log: float) -> Iterator[Reason]:
    """Whether marks that all look stronger or weaker alike are the whole of the change that was found.

    A light polish makes them weaker alike, and so does a lamp that lies elsewhere: the figure is what the
    photographs show, and they cannot tell which.

    Parameters
    ----------
    changes : sequence of Change
        Of one spot; the first is that of all marks.
    marks_log : float
        What the strength of the marks that both show makes of ln(density), after over before.
    """
    found = changes[0]
    if not found.distinguishable or found.ci95_percent is None:
        return
    low, high = (1 + end / 100 for end in found.ci95_percent)
    if low <= math.exp(marks_log) <= high:
        values: dict[str, str | float] = {"share": 100 * math.expm1(marks_log)}
        yield Reason(code="marks alike", values=values, topic="lamp", verdict="with care")


def _fainter(
    overlay: AlignedPair, grown: float, *, doubt: PairDoubt, setup: SetupProfile, seed: int
) -> FainterChange | None:
    """Change of the marks above the faintest width that both photographs show."""
    limit = common_limit_um(overlay.before, overlay.after)
    if limit is None:
        return None
    counted = at_limit(overlay.before, limit_um=limit), at_limit(overlay.after, limit_um=limit)
    tables = common_tables(overlay, marks=counted, grown=grown)
    if tables is None:
        return None
    change = density_change(
        tables,
        "density all",
        capture=setup.capture("density all"),
        limit_length_mm=overlay.before.detection_limit.length_mm,
        doubt=doubt,
        seed=seed,
    )
    return FainterChange(limit_um=limit, change=change)
