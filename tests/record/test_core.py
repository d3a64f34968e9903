"""The real measuring core behind the record: same figures, same hashes, repeatable."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from defectmap.panel.codec import json_text, measurement_record
from defectmap.record.entries import StepSpec, add_step, moment
from defectmap.record.intake import Place, add_photograph
from defectmap.record.keeping import figures_of, results_of
from defectmap.record.measuring import measure_job
from defectmap.record.results import compare
from defectmap.record.store import Store
from defectmap.record.verifying import verify
from tests.measurements import panel_measurement
from tests.record.kept import latest_measurements

SAMPLES = Path(__file__).parents[2] / "samples"


def test_the_figures_are_found_in_a_published_record() -> None:
    """Keys of the result file may be added, never renamed: a rename would show here as None."""
    measured = panel_measurement()
    figures = figures_of(json.loads(json_text(measurement_record(measured))))
    assert figures.swirl == pytest.approx(measured.density.swirl)
    assert figures.scratch == pytest.approx(measured.density.scratch)
    assert figures.every_mark == pytest.approx(measured.density.all)
    assert figures.longest_scratch_mm == pytest.approx(measured.longest_scratch_mm)
    assert figures.haze == pytest.approx(measured.haze)
    assert figures.score == pytest.approx(measured.score)
    assert figures.calibrated is measured.scale.calibrated


@pytest.mark.slow
def test_a_panel_of_the_sample_job_measured_compared_and_repeated(store: Store, job: str) -> None:
    listed = json.loads((SAMPLES / "job.json").read_text(encoding="utf-8"))["photographs"]
    shots = {shot["stage"]: shot for shot in listed if shot["panel"] == "bonnet"}
    for side, stage in (("before", "decontaminated"), ("after", "wiped")):
        place = Place(panel="bonnet", stage=stage, px_per_mm=shots[side]["px_per_mm"])
        add_photograph(store, job, SAMPLES / shots[side]["file"], place)
    run = measure_job(store, job, workers=2)
    assert (run.measured, run.failed) == (2, ())
    for measurement in latest_measurements(store, job).values():
        result = results_of(store, job)[measurement.photograph_id].record
        assert result["photo"]["name"].startswith("bonnet")
        assert measurement.figures.calibrated
    report = verify(store, job, again=True)
    assert report.findings == ()  # measuring again gives the same bytes
    for kind, at in (("correct", "2026-05-12T10:00+00:00"), ("wipe", "2026-05-12T10:30+00:00")):
        add_step(store, job, "bonnet", StepSpec(kind=kind), at=moment(at))
    found = compare(store, job, "bonnet")
    assert found.verdict == "yes"
    density = found.result["density_mm_per_cm2"]["all"]
    assert density["change_percent"] < 0
    assert density["distinguishable"]
    assert found.result["claim"]["word"] == "removed"


@pytest.mark.slow
def test_the_record_is_stricter_than_the_stage(store: Store, job: str) -> None:
    listed = json.loads((SAMPLES / "job.json").read_text(encoding="utf-8"))["photographs"]
    shots = {shot["stage"]: shot for shot in listed if shot["panel"] == "roof"}
    for side, stage in (("before", "decontaminated"), ("after", "wiped")):
        place = Place(panel="roof", stage=stage, px_per_mm=shots[side]["px_per_mm"])
        add_photograph(store, job, SAMPLES / shots[side]["file"], place)
    add_step(store, job, "roof", StepSpec(kind="fill"), at=moment("2026-05-12T08:00+00:00"))
    found = compare(store, job, "roof")
    assert found.result["claim"]["word"] == "less visible"
    assert "filler" in found.result["claim"]["reason"]
