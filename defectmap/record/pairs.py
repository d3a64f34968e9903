"""Before against after from kept measurements: compared once, cut out as often as somebody looks."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any, cast

from defectmap import __version__
from defectmap.commands.printing import plain as as_json
from defectmap.errors import DefectmapError
from defectmap.record.comparisons import CompareRequest, ComparisonRecord, compare_panel
from defectmap.record.corrections import corrected, corrections_in
from defectmap.record.measuring import PhotoRequest
from defectmap.record.photo_results import PhotoResult, results_of
from defectmap.record.sealing import canonical, sha256_of_text
from defectmap.record.shelf import whole_measurement
from defectmap.trade.stages import BASELINE, PROOF

if TYPE_CHECKING:
    from defectmap.comparison.compare import Shot
    from defectmap.comparison.masking import Stage
    from defectmap.comparison.outcome import SpotComparison
    from defectmap.comparison.setup_profile import SetupProfile
    from defectmap.panel.measurement import PanelMeasurement
    from defectmap.record.overview import JobOverview
    from defectmap.record.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class PairOfPhotographs:
    """The two photographs of one spot in a comparison."""

    before: PhotoResult
    after: PhotoResult


def compare(store: Store, reference: str, panel: str, *, before: str, after: str) -> ComparisonRecord:
    """Compare a panel between two stages, from what is measured already, and keep the result.

    Raises
    ------
    JobError
        A side is missing, or a photograph of it was refused.
    """
    from defectmap.comparison.setup_profile import find_profile

    profile = find_profile(None)
    settings: dict[str, Any] = {
        "setup": None if profile is None else sha256_of_text(canonical(as_json(profile)))
    }
    return compare_panel(
        store,
        reference,
        panel,
        compare=partial(_compare, store=store, reference=reference, setup=profile),
        program_version=__version__,
        before=before,
        after=after,
        settings=settings,
    )


def ready_panels(look: JobOverview) -> tuple[str, ...]:
    """Panels that have photographs from before and from after."""
    return tuple(p.history.panel.name for p in look.panels if p.at(BASELINE) and p.at(PROOF))


def compare_ready(
    store: Store,
    reference: str,
    panels: Sequence[str],
    *,
    progress: Callable[[int, int, str], None] | None = None,
) -> tuple[str, ...]:
    """Compare panels before against after and keep the results; what is compared already is only found.

    Parameters
    ----------
    panels : sequence of str
        See `ready_panels`.
    progress : callable, optional
        Told after each panel: how many are done, of how many, which.

    Returns
    -------
    tuple of str
        What could not be compared, and why.
    """
    problems = []
    for number, name in enumerate(panels, start=1):
        try:
            compare(store, reference, name, before=BASELINE, after=PROOF)
        except DefectmapError as error:
            problems.append(f"{name}: {error}")
        if progress is not None:
            progress(number, len(panels), name)
    return tuple(problems)


def pairs_of(store: Store, reference: str, found: ComparisonRecord) -> tuple[PairOfPhotographs, ...]:
    """The photographs that a kept comparison was made from, one pair a spot."""
    by_hash = {one.photograph.sha256: one for one in results_of(store, reference, panel=found.panel).values()}
    sides = (found.settings["before"], found.settings["after"])
    return tuple(
        PairOfPhotographs(before=by_hash[one], after=by_hash[other])
        for one, other in zip(*sides, strict=True)
        if one in by_hash and other in by_hash
    )


def spot_comparison(
    before: PanelMeasurement, after: PanelMeasurement, spot: Mapping[str, Any]
) -> SpotComparison:
    """One spot of a kept comparison as the cropping reads it: how the photographs lie on each other.

    Parameters
    ----------
    spot : mapping
        An entry of `spots` in `compare --json`.
    """
    from defectmap.comparison.align import Alignment
    from defectmap.comparison.outcome import Comparability, SpotComparison

    pose = spot["alignment"]
    sureness = float(pose["sureness"] or 0.0)
    return SpotComparison(
        before=before,
        after=after,
        alignment=Alignment(
            by=pose["by"],
            sureness=sureness,
            marks_sureness=sureness if pose["by"] == "marks" else 0.0,
            texture_sureness=sureness if pose["by"] == "texture" else 0.0,
            turn_deg=pose["turn_deg"],
            down_mm=pose["down_mm"],
            right_mm=pose["right_mm"],
            scale=pose["scale"],
        ),
        comparable=Comparability(),
        common_area_cm2=float(spot["common_area_cm2"] or 0.0),
        changes=(),
    )


def _compare(
    request: CompareRequest,
    *,
    store: Store,
    reference: str,
    setup: SetupProfile | None,
) -> Mapping[str, Any]:
    """Like `defectmap.record.core.compare_photographs`, without measuring again."""
    from defectmap.comparison.compare import compare_shots
    from defectmap.comparison.contract import comparison_record

    results = results_of(store, reference, panel=request.panel)

    def shots(side: tuple[PhotoRequest, ...]) -> list[Shot]:
        return [_shot(one, store, results.get(one.photograph_id)) for one in side]

    found = compare_shots(
        shots(request.before),
        shots(request.after),
        unwiped=shots(request.unwiped),
        before_stage=cast("Stage", request.before_stage),
        after_stage=cast("Stage", request.after_stage),
        setup=setup,
    )
    record = comparison_record(found)
    if request.claim.word != "removed":
        reason = " ".join(request.claim.reasons)
        record["claim"] = {**record["claim"], "word": request.claim.word, "reason": reason}
    return record


def _shot(request: PhotoRequest, store: Store, result: PhotoResult | None) -> Shot:
    from defectmap.comparison.compare import Shot, measured_shot
    from defectmap.errors import PhotoError
    from defectmap.panel.photo.photograph import load

    photo = load(request.path.read_bytes(), name=request.name)
    if result is None:
        return measured_shot(photo, px_per_mm=request.px_per_mm, field_width_mm=request.field_width_mm)
    if result.record.get("refused"):
        raise PhotoError(str(result.record["refused"]))
    measured = whole_measurement(store, request, result.base)
    return Shot(photo=photo, measured=corrected(measured, corrections_in(request.settings)))
