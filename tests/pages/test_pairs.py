"""Comparing on the pages and on the command line: one way, with what was corrected by hand."""

from __future__ import annotations

from pathlib import Path

from defectmap.record.corrections import Exclusion
from defectmap.record.keeping import results_of
from defectmap.record.results import compare
from defectmap.record.store import Store
from defectmap.record.whole import correct, measurement_of, spot_pairs
from tests.pages.conftest import JOB


def leave_left_half_out(store: Store) -> None:
    """Correct the first photograph of the bonnet by hand, as the page does it."""
    result = next(one for one in results_of(store, JOB).values() if one.photograph.stage == "decontaminated")
    correct(store, result, [Exclusion(left=0, top=0, right=490, bottom=760)])


def test_a_correction_counts_in_the_comparison(record: Path, store: Store) -> None:
    plain = compare(store, JOB, "bonnet")
    leave_left_half_out(store)
    corrected = compare(store, JOB, "bonnet")
    assert any("Corrected by hand" in said for said in corrected.result["before"]["warnings"])
    # about half of the area that both photographs show is left, give or take where the lamp's disc lies
    areas = [found.result["spots"][0]["common_area_cm2"] for found in (corrected, plain)]
    assert 0.3 < areas[0] / areas[1] < 0.7
    assert compare(store, JOB, "bonnet").id == corrected.id


def test_a_spot_laid_on_itself_again_is_as_it_was_compared(record: Path, store: Store) -> None:
    found = compare(store, JOB, "bonnet")
    (pair,) = spot_pairs(store, JOB, found)
    said = found.result["spots"][0]
    assert pair.laid.alignment.right_mm == said["alignment"]["right_mm"]
    assert pair.laid.common_area_cm2 == said["common_area_cm2"]
    assert pair.laid.comparable.verdict == said["comparable"]
    by_figure = {change.figure: change for change in pair.laid.changes}
    assert by_figure["density all"].change_percent == said["density_mm_per_cm2"]["all"]["change_percent"]
    assert pair.before.photograph.stage == "decontaminated"
    assert len(pair.laid.before.marks) == len(measurement_of(store, pair.before).marks)
