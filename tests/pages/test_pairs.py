"""Comparing on the pages and on the command line: one way, with what was corrected by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from defectmap.record import results
from defectmap.record.corrections import Exclusion
from defectmap.record.keeping import results_of
from defectmap.record.results import compare
from defectmap.record.store import Store
from defectmap.record.whole import correct, measurement_of, spot_pairs
from defectmap.report.typical import job_results
from tests.pages.conftest import JOB, open_page, words


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


def test_an_interval_without_an_end_is_said_and_not_drawn(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = compare(store, JOB, "bonnet")
    result: dict[str, Any] = {**found.result, "comparable": "yes"}
    change = {"before": 3.0, "after": 2.0, "change_percent": -33.0, "distinguishable": False}
    open_ended = {**change, "ci95_percent": [-60.0, None], "at_least_percent": None}
    result["density_mm_per_cm2"] = {**result["density_mm_per_cm2"], "all": open_ended}
    kept = replace(found, verdict="yes", result=result)
    monkeypatch.setattr(results, "compare", lambda *_, **__: kept)
    app = open_page("before_after")
    assert not app.exception
    assert "−60 % or more" in words(app)


def test_a_kept_refusal_is_told_and_counts_for_nothing(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = compare(store, JOB, "bonnet")
    sides = {"before": {"refused": "too dark"}, "after": {"refused": None}}
    refused = {"comparable": "no", "reasons": ["It was too dark."], **sides}
    kept = replace(found, verdict="no", result=refused)
    monkeypatch.setattr(results, "compare", lambda *_, **__: kept)
    app = open_page("before_after")
    assert not app.exception
    assert "It was too dark" in words(app)
    monkeypatch.setattr("defectmap.report.typical.latest_comparisons", lambda *_, **__: {"bonnet": kept})
    (job,) = job_results(store)
    assert (job.panels, job.compared, job.change_percent) == (1, 0, None)
