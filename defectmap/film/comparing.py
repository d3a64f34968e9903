"""Compare two films of one spot: the same verdicts, figures and words as for two photographs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from defectmap.comparison.figure_changes import KIND_OF, bounded_change, clean_before
from defectmap.comparison.masking import Stage, claim, stage_reasons
from defectmap.comparison.outcome import Change, Comparability, Comparison, Figure, Reason, SpotComparison
from defectmap.comparison.spots import scope_of
from defectmap.film import tuning
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.change import Lengths, density, lengths_in, ratio_interval, strong_lines, swept
from defectmap.film.common_ground import Common, common_of, levelled
from defectmap.film.homography import Homography
from defectmap.film.overlaying import FilmPose, as_alignment, lay
from defectmap.panel.measurement import PanelMeasurement
from defectmap.words.remark import Remark


def compare_films(
    before: FilmMeasurement,
    after: FilmMeasurement,
    *,
    before_stage: Stage | None = None,
    after_stage: Stage | None = None,
) -> Comparison:
    """Compare a film before with a film after.

    Parameters
    ----------
    before_stage, after_stage : Stage, optional
        When each was taken; decides between "removed" and "less visible".

    Returns
    -------
    Comparison
        Without changes where they cannot be compared; its reasons say why. No score and no exposure step:
        a film's marks are counted where they are strongest.
    """
    overlay = lay(before, after)
    common = common_of(before, after, overlay.to_before)
    verdict = Comparability(reasons=(*_reasons(before, after, overlay, common), *stage_reasons(after_stage)))
    changes: tuple[Change, ...] = ()
    if verdict.verdict != "no":
        changes = tuple(_changes(before, after, overlay.to_before, common))
    spot = SpotComparison(
        before=before.panel,
        after=after.panel,
        alignment=as_alignment(overlay, before, after),
        comparable=verdict,
        common_area_cm2=float(common.grid.zone_share.sum()) * common.cell_cm2,
        changes=changes,
    )
    said = [Remark(code="few spots")]
    if changes:
        said.insert(0, Remark(code="film directions", values={"share": 100 * common.share}))
    if not before.panel.scale.calibrated:
        said.append(Remark(code="uncalibrated"))
    return Comparison(
        spots=(spot,),
        comparable=verdict,
        changes=changes,
        scope=scope_of(1),
        claim=claim(before_stage=before_stage, after_stage=after_stage),
        warnings=tuple(said),
    )


def _reasons(
    before: FilmMeasurement, after: FilmMeasurement, overlay: FilmPose, common: Common
) -> list[Reason]:
    one, other = before.panel, after.panel
    if one.photo.sha256 == other.photo.sha256:
        return [Reason(code="same file", topic="same picture", verdict="no")]
    said = []
    if not overlay.sure:
        values = {"sureness": overlay.sureness, "limit": tuning.SURE_OVERLAY}
        said.append(
            Reason(
                code="films do not fit" if overlay.lines >= tuning.LEAST_LINES else "films show few marks",
                topic="place",
                verdict="no",
                values=values,
                value=overlay.sureness,
                limit=tuning.SURE_OVERLAY,
            )
        )
    said += [*_lying_reasons("before", one), *_lying_reasons("after", other)]
    shared = tuning.SHARED_DIRECTIONS, tuning.LEAST_SHARED_DIRECTIONS
    said += _share_reasons("films share few directions", common.share, shared)
    radii = before.lamps[0].radius_px / before.window_scale, after.lamps[0].radius_px / after.window_scale
    ratio = max(radii) / min(radii)
    if ratio > tuning.SAME_LAMP_RATIO:
        values = {"ratio": ratio, "limit": tuning.SAME_LAMP_RATIO}
        said.append(
            Reason(
                code="films of two lamps",
                topic="lamp",
                verdict="with care",
                values=values,
                value=ratio,
                limit=tuning.SAME_LAMP_RATIO,
            )
        )
    return said


def _lying_reasons(side: str, panel: PanelMeasurement) -> list[Reason]:
    """What only frames left out show is missing, so that a film of few frames looks like cleaner paint."""
    film = panel.film
    assert film is not None
    used = len(film.used)
    share = used / (used + film.left_out.get("does not fit", 0))
    return _share_reasons("film lies in part", share, (tuning.LYING, tuning.LEAST_LYING), side=side)


def _share_reasons(code: str, share: float, limits: tuple[float, float], **values: str) -> list[Reason]:
    """A share of 1 below which care is needed, and one below which no figure is given."""
    enough, least = limits
    if share >= enough:
        return []
    few = share < least
    limit = least if few else enough
    return [
        Reason(
            code=code,
            topic="place",
            verdict="no" if few else "with care",
            values={**values, "share": 100 * share, "limit": 100 * limit},
            value=share,
            limit=limit,
        )
    ]


def _changes(
    before: FilmMeasurement, after: FilmMeasurement, to_before: Homography, common: Common
) -> Sequence[Change]:
    found, still = [], np.eye(3)
    shown_before, shown_after = strong_lines(before, still), strong_lines(after, to_before)
    one = before, levelled(before, common, still, common.better[0])
    other = after, levelled(after, common, to_before, common.better[1])
    for figure, kind in KIND_OF.items():
        own, level = (lengths_in(film, common, still, kind=kind, beside=shown_after) for film in one)
        theirs, theirs_level = (
            lengths_in(film, common, to_before, kind=kind, beside=shown_before) for film in other
        )
        by_sweeps = swept((own, level), (theirs, theirs_level), common)
        found.append(_density_change(figure, level, theirs_level, common, by_sweeps))
    plain: tuple[tuple[Figure, float, float], ...] = (
        ("longest scratch", before.panel.longest_scratch_mm, after.panel.longest_scratch_mm),
        ("haze", before.panel.haze, after.panel.haze),
    )
    found += [
        Change(figure=figure, before=one, after=other, remark=Remark(code="film no change"))
        for figure, one, other in plain
    ]
    return found


def _density_change(
    figure: Figure, before: Lengths, after: Lengths, common: Common, by_sweeps: float
) -> Change:
    area = common.area_cm2
    one, other = density(before.by_direction, area), density(after.by_direction, area)
    if one == 0:
        return clean_before(figure, other)
    if other == 0:
        return none_after(figure, one, "nothing after")
    return bounded_change(figure, one, other, ratio_interval(before, after, common, by_sweeps=by_sweeps))


def none_after(figure: Figure, before: float, code: str) -> Change:
    """Nothing seen after, which of films proves no least reduction."""
    return Change(figure=figure, before=before, after=0.0, change_percent=-100.0, remark=Remark(code=code))
