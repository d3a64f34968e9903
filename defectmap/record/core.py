"""The measuring core as the record calls it: a kept photograph in, the published JSON out.

Everything heavy is imported when a photograph is measured, in the process that measures it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from defectmap.record.comparisons import CompareRequest
from defectmap.record.measuring import PhotoRequest

if TYPE_CHECKING:
    from defectmap.comparison.compare import Shot
    from defectmap.comparison.masking import Stage
    from defectmap.comparison.setup_profile import SetupProfile


def measure_photograph(request: PhotoRequest) -> Mapping[str, Any]:
    """Measure one kept photograph.

    Corrections by hand among the settings are applied to what was measured.

    Raises
    ------
    PhotoError
        It cannot be measured; the message says why.
    """
    from defectmap.panel.codec import measurement_record
    from defectmap.panel.measure import measure
    from defectmap.record.corrections import corrected, corrections_in

    measured = measure(
        request.path.read_bytes(),
        px_per_mm=request.px_per_mm,
        field_width_mm=request.field_width_mm,
        name=request.name,
    )
    return measurement_record(corrected(measured, corrections_in(request.settings)))


def compare_photographs(request: CompareRequest, *, setup: SetupProfile | None = None) -> Mapping[str, Any]:
    """Compare the photographs of one panel, with what was corrected by hand.

    What the record knows of wipes and fillers decides which word the result may use, where that is stricter
    than the stages alone.

    Raises
    ------
    PhotoError
        A photograph cannot be measured.
    """
    from defectmap.comparison.compare import compare_shots
    from defectmap.comparison.contract import comparison_record

    found = compare_shots(
        [_shot(photo) for photo in request.before],
        [_shot(photo) for photo in request.after],
        unwiped=[_shot(photo) for photo in request.unwiped],
        before_stage=cast("Stage", request.before_stage),
        after_stage=cast("Stage", request.after_stage),
        setup=setup,
    )
    record = comparison_record(found)
    if request.claim.word != "removed":
        record["claim"] = {
            **record["claim"],
            "word": request.claim.word,
            "reason": " ".join(request.claim.reasons),
        }
    return record


def _shot(request: PhotoRequest) -> Shot:
    from defectmap.comparison.compare import measured_shot
    from defectmap.panel.photo.photograph import load
    from defectmap.record.corrections import corrected, corrections_in

    photo = load(request.path.read_bytes(), name=request.name)
    shot = measured_shot(photo, px_per_mm=request.px_per_mm, field_width_mm=request.field_width_mm)
    return replace(shot, measured=corrected(shot.measured, corrections_in(request.settings)))
