"""From measured photographs and films of the record to what their comparison says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from defectmap.comparison.films_apart import left_out_remark
from defectmap.record.comparisons import CompareRequest
from defectmap.record.corrections import hand_counts
from defectmap.record.keeping import PhotoResult
from defectmap.record.measuring import PhotoRequest
from defectmap.record.shelf import panel_of
from defectmap.record.whole import film_of, measurement_of, uncorrected

if TYPE_CHECKING:
    from defectmap.comparison.compare import Shot
    from defectmap.comparison.masking import Stage
    from defectmap.comparison.outcome import Comparison
    from defectmap.comparison.setup_profile import SetupProfile
    from defectmap.film.assembling import FilmMeasurement
    from defectmap.record.store import Store


def compared(
    store: Store, request: CompareRequest, results: Mapping[str, PhotoResult], *, profile: SetupProfile | None
) -> Mapping[str, Any]:
    """Compare what is measured; the result as `compare --json` writes it.

    What the record knows of wipes and fillers decides with the stages which word the result may use.
    """
    from defectmap.comparison.contract import comparison_record

    def found(*, by_hand: bool) -> Comparison:
        if request.kind == "photographs":
            said = _compared_photographs(store, request, results, profile=profile, by_hand=by_hand)
        else:
            said = _compared_films(store, request, results, by_hand=by_hand)
        return replace(said, claim=request.claim)

    record = comparison_record(_saying_left_out(found(by_hand=True), request))
    corrections = [c for one in request.photographs for c in results[one.photograph_id].corrections]
    if corrections:
        alone = comparison_record(found(by_hand=False))
        without = alone["density_mm_per_cm2"]["all"]["change_percent"]
        record["by_hand"] = {**hand_counts(corrections), "change_percent_without": without}
    return record


def _compared_photographs(
    store: Store,
    request: CompareRequest,
    results: Mapping[str, PhotoResult],
    *,
    profile: SetupProfile | None,
    by_hand: bool,
) -> Comparison:
    from defectmap.comparison.compare import compare_shots

    def shots(side: tuple[PhotoRequest, ...]) -> list[Shot]:
        return [_shot(store, one, results[one.photograph_id], by_hand=by_hand) for one in side]

    return compare_shots(
        shots(request.before),
        shots(request.after),
        unwiped=shots(request.unwiped),
        before_stage=cast("Stage", request.before_stage),
        after_stage=cast("Stage", request.after_stage),
        setup=profile,
    )


def _compared_films(
    store: Store, request: CompareRequest, results: Mapping[str, PhotoResult], *, by_hand: bool
) -> Comparison:
    """Films against films; a film against a photograph is a refusal with its reason, never a figure."""
    from defectmap.film.several import compare_film_spots, film_against_photograph

    stages: dict[str, Any] = {"before_stage": request.before_stage, "after_stage": request.after_stage}
    sides = [[results[one.photograph_id] for one in side] for side in (request.before, request.after)]
    if request.kind == "mixed":
        pairs = zip(*([measurement_of(store, one) for one in side] for side in sides), strict=True)
        return film_against_photograph(list(pairs), **stages)
    whole = film_of if by_hand else uncorrected
    before, after = ([cast("FilmMeasurement", whole(store, one)) for one in side] for side in sides)
    return compare_film_spots(before, after, **stages)


def _saying_left_out(found: Comparison, request: CompareRequest) -> Comparison:
    """The comparison with a word on spots of another kind; the two kinds are never mixed."""
    if not request.left_out or request.kind == "mixed":
        return found
    return replace(found, warnings=(*found.warnings, left_out_remark(request.kind, request.left_out)))


def _shot(store: Store, request: PhotoRequest, result: PhotoResult, *, by_hand: bool = True) -> Shot:
    from defectmap.comparison.compare import Shot
    from defectmap.panel.photo.photograph import load

    photo = load(store.originals.read(request.sha256, name=request.name), name=request.name)
    measured = measurement_of(store, result) if by_hand else panel_of(uncorrected(store, result))
    return Shot(photo=photo, measured=measured)
