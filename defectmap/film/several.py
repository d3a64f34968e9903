"""Several filmed spots of one panel together; and the refusal where a film meets a photograph."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from defectmap.comparison.align import Alignment
from defectmap.comparison.figure_changes import bounded_change, clean_before
from defectmap.comparison.films_apart import FILM_DIRECTIONS
from defectmap.comparison.interval import log_interval, student_factor
from defectmap.comparison.masking import Stage, claim, stage_reasons
from defectmap.comparison.outcome import Change, Comparability, Comparison, Reason, SpotComparison
from defectmap.comparison.spots import panel_change, scope_of
from defectmap.comparison.tuning import PANEL_SPOTS
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.comparing import compare_films, none_after
from defectmap.panel.measurement import PanelMeasurement
from defectmap.words.remark import Remark

FEW_SPOTS = "few spots"


def compare_film_spots(
    before: Sequence[FilmMeasurement],
    after: Sequence[FilmMeasurement],
    *,
    before_stage: Stage | None = None,
    after_stage: Stage | None = None,
) -> Comparison:
    """Compare the films of several spots before with those after, in the same order.

    Returns
    -------
    Comparison
        Of three spots and more, as of photographs, an interval that speaks of the panel.
    """
    found = [
        compare_films(one, other, before_stage=before_stage, after_stage=after_stage)
        for one, other in zip(before, after, strict=True)
    ]
    first = found[0]
    if len(found) == 1:
        return first
    reasons = [reason for one in found for reason in one.comparable.reasons]
    verdict = Comparability(reasons=_each_once(reasons))
    changes: tuple[Change, ...] = ()
    if verdict.verdict != "no":
        rows = zip(*(one.changes for one in found), strict=True)
        changes = tuple(_together(list(row)) for row in rows)
    return replace(
        first,
        spots=tuple(one.spots[0] for one in found),
        comparable=verdict,
        changes=changes,
        scope=scope_of(len(found)),
        warnings=_warnings(found),
    )


def film_against_photograph(
    pairs: Sequence[tuple[PanelMeasurement, PanelMeasurement]],
    *,
    before_stage: Stage | None = None,
    after_stage: Stage | None = None,
) -> Comparison:
    """The comparison of spots that were filmed at one stage and photographed at the other: none."""
    spots = tuple(_mixed_spot(before, after) for before, after in pairs)
    reasons = _each_once(reason for spot in spots for reason in spot.comparable.reasons)
    return Comparison(
        spots=spots,
        comparable=Comparability(reasons=(*reasons, *stage_reasons(after_stage))),
        changes=(),
        scope=scope_of(len(spots)),
        claim=claim(before_stage=before_stage, after_stage=after_stage),
    )


def _each_once(reasons: Iterable[Reason]) -> tuple[Reason, ...]:
    found: list[Reason] = []
    found.extend(reason for reason in reasons if reason not in found)
    return tuple(found)


def _mixed_spot(before: PanelMeasurement, after: PanelMeasurement) -> SpotComparison:
    side = "before" if before.film is not None else "after"
    reason = Reason(
        code="film against photograph", topic="kind of picture", verdict="no", values={"side": side}
    )
    nowhere = Alignment(
        by="hotspot",
        sureness=0.0,
        marks_sureness=0.0,
        texture_sureness=0.0,
        turn_deg=0.0,
        down_mm=0.0,
        right_mm=0.0,
        scale=1.0,
    )
    return SpotComparison(
        before=before,
        after=after,
        alignment=nowhere,
        comparable=Comparability(reasons=(reason,)),
        common_area_cm2=0.0,
        changes=(),
    )


def _together(row: list[Change]) -> Change:
    """One figure of all spots."""
    figure = row[0].figure
    before, after = (float(np.mean([getattr(one, side) for one in row])) for side in ("before", "after"))
    if figure == "longest scratch":
        before, after = (max(getattr(one, side) for one in row) for side in ("before", "after"))
    if not figure.startswith("density"):
        return replace(row[0], before=before, after=after)
    if before <= 0:
        return clean_before(figure, after)
    if after <= 0:
        return none_after(figure, before, "nothing after at every spot")
    if len(row) >= PANEL_SPOTS:
        return panel_change(row)
    return _these_spots(row, before, after)


def _these_spots(row: list[Change], before: float, after: float) -> Change:
    """The ratio of the sums, its variance from each spot's own by the delta method.

    d ln(Σa / Σb) = Σ aᵢ / Σa · d ln(aᵢ / bᵢ) where the doubt is taken to lie in aᵢ; a spot without an
    interval leaves none for all.
    """
    total = sum(one.after for one in row)
    parts = [(one.after / total) * _se_log(one) for one in row if one.after > 0]
    if any(math.isnan(part) for part in parts):
        return Change(
            figure=row[0].figure,
            before=before,
            after=after,
            change_percent=100 * (after / before - 1),
            remark=Remark(code="film no change"),
        )
    # each spot's own interval holds its Student's factor already, so the sum is taken at the normal one
    found = log_interval(after / before, se_log=math.hypot(*parts), df=math.inf, method="spots")
    return bounded_change(row[0].figure, before, after, found)


def _se_log(change: Change) -> float:
    if change.ci95_percent is None:
        return math.nan
    low, high = (math.log1p(end / 100) for end in change.ci95_percent)
    return (high - low) / 2 / student_factor(math.inf)


def _warnings(found: Sequence[Comparison]) -> tuple[Remark, ...]:
    """What each spot's comparison says, once; of shares the least; of few spots only where they are few."""
    said: dict[str, Remark] = {}
    for remark in (remark for one in found for remark in one.warnings):
        known = said.get(remark.code)
        if remark.code == FILM_DIRECTIONS and known is not None:
            share = min(cast("float", r.values["share"]) for r in (known, remark))
            said[FILM_DIRECTIONS] = Remark(code=FILM_DIRECTIONS, values={"share": share})
        else:
            said[remark.code] = remark
    if len(found) >= PANEL_SPOTS:
        said.pop(FEW_SPOTS, None)
    return tuple(said.values())
