"""The demo on a small job of its own, and (slow) on the sample job."""

from __future__ import annotations

import json
import re
from pathlib import Path

import cv2
import pytest
from typer.testing import CliRunner

from defectmap.commands.program import app
from defectmap.commands.show_demo import find_samples
from tests.phantom import Shot, photograph, swirls

runner = CliRunner()


@pytest.fixture(scope="module")
def small_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One panel, one photograph before and one after."""
    folder = tmp_path_factory.mktemp("job")
    for side, density in (("before", 60.0), ("after", 6.0)):
        rgb = photograph(swirls(8, density_mm_per_cm2=density), Shot(px_per_mm=10.0)).rgb
        cv2.imwrite(str(folder / f"hood-{side}.png"), rgb[..., ::-1])
    entry = {"panel": "hood", "px_per_mm": 10.0}
    job = {
        "reference": "D-1",
        "kind": "car",
        "vehicle": "invented",
        "colour": "blue",
        "stages": {"before": "decontaminated", "after": "wiped"},
        "panels": [{"name": "hood", "material": "steel"}],
        "steps": [{"panel": "hood", "step": "wipe", "at": "2026-05-12T14:51:00"}],
        "photographs": [
            {**entry, "stage": "before", "file": "hood-before.png"},
            {**entry, "stage": "after", "file": "hood-after.png"},
        ],
    }
    (folder / "job.json").write_text(json.dumps(job))
    return folder


def test_demo_writes_records_pictures_and_a_page(small_job: Path, tmp_path: Path) -> None:
    result = runner.invoke(
        app, ["demo", "--samples", str(small_job), "--out", str(tmp_path / "out"), "--no-browser"]
    )
    assert result.exit_code == 0, result.output
    made = {path.name for path in (tmp_path / "out").iterdir()}
    for side in ("before", "after"):
        assert {f"hood-{side}.json", f"hood-{side}-zone.png", f"hood-{side}-overlay.jpg"} <= made
    page = (tmp_path / "out" / "index.html").read_text(encoding="utf-8")
    assert "report.pdf" in page
    for picture in re.findall(r'(?:src|href)="([^"]+)"', page):
        assert (tmp_path / "out" / picture).is_file()
    assert re.search(r'alt="hood, before: [\d.]+ mm/cm²', page)
    before, after = (
        json.loads((tmp_path / "out" / f"hood-{side}.json").read_text()) for side in ("before", "after")
    )
    assert before["density_mm_per_cm2"]["all"] > after["density_mm_per_cm2"]["all"]
    assert re.search(r"hood +[\d.]+ -> [\d.]+", result.stdout)


def test_refused_sample_is_status_3_and_the_others_are_done(small_job: Path, tmp_path: Path) -> None:
    for file in small_job.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "hood-after.png").write_text("no picture")
    result = runner.invoke(app, ["demo", "--samples", str(tmp_path), "--out", str(tmp_path / "out")])
    assert result.exit_code == 3
    assert "Refused" in result.stderr
    assert (tmp_path / "out" / "hood-before-overlay.jpg").is_file()
    assert json.loads((tmp_path / "out" / "hood-after.json").read_text())["refused"]
    # all measured panels or none: the refused one is in the report, without a percentage
    report = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "Before and after cannot be compared." in report
    assert not (tmp_path / "out" / "posting.jpg").exists()


def test_missing_samples_are_said_with_what_to_do(tmp_path: Path) -> None:
    result = runner.invoke(app, ["demo", "--samples", str(tmp_path)])
    assert result.exit_code == 2
    assert "from a clone" in result.stderr


def test_sample_job_names_photographs_that_are_there() -> None:
    job = json.loads((find_samples(None) / "job.json").read_text(encoding="utf-8"))
    shots = {(shot["panel"], shot["stage"]): find_samples(None) / shot["file"] for shot in job["photographs"]}
    assert shots.keys() == {(p["name"], side) for p in job["panels"] for side in ("before", "after")}
    assert all(path.is_file() for path in shots.values())


@pytest.mark.slow
def test_whole_sample_job(tmp_path: Path) -> None:
    result = runner.invoke(app, ["demo", "--out", str(tmp_path), "--no-browser"])
    assert result.exit_code == 0, result.output
    assert len(list(tmp_path.glob("*-overlay.jpg"))) == 10
