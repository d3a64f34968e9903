"""Films in a job: kept, measured, compared and taken along as photographs are, and never mixed with them."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import cv2
import numpy as np
import pytest

from defectmap import versions
from defectmap.errors import PhotoError
from defectmap.record import comparisons, measuring, results, whole
from defectmap.record.corrections import Exclusion
from defectmap.record.entries import StepSpec, add_step
from defectmap.record.filming import telling, under_way
from defectmap.record.intake import Place, add_photograph
from defectmap.record.keeping import PhotoResult, results_of
from defectmap.record.measuring import PhotoRequest, measure_job, request_of
from defectmap.record.overview import overview
from defectmap.record.result_forms import measurement_form_problem
from defectmap.record.store import Store, open_store
from defectmap.record.transfer import export_job, import_job
from defectmap.record.verifying import verify
from defectmap.record.whole import correct, film_of, measurement_of, picture_of
from defectmap.report.fromjob import report_from_job
from tests import phantom
from tests.filmed import film_files, stand_in

real = measuring.film_measured
BEFORE, AFTER = "decontaminated", "wiped"
Given = Callable[[str, str], None]


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Two film files and a photograph; what the films show is told by their names."""
    folder = tmp_path_factory.mktemp("files")
    film_files(folder)
    shot = phantom.Shot(size_px=(480, 640), px_per_mm=10.0)
    rgb = phantom.photograph(phantom.swirls(1, density_mm_per_cm2=60), shot).rgb
    cv2.imwrite(str(folder / "photo.png"), rgb[..., ::-1])
    cut = (folder / "after.mp4").read_bytes()
    (folder / "cut.mp4").write_bytes(cut[: cut.index(b"moov") - 10])
    return {path.name: path for path in folder.iterdir()}


def film_measured(request: PhotoRequest) -> object:
    return real(request) if request.name == "cut.mp4" else stand_in(request)


@pytest.fixture
def give(store: Store, job: str, files: dict[str, Path], monkeypatch: pytest.MonkeyPatch) -> Given:
    """Put one of the files into the job, and measure."""
    monkeypatch.setattr(measuring, "film_measured", film_measured)

    def given(name: str, stage: str, spot: str = "1") -> None:
        add_photograph(store, job, files[name], Place(panel="bonnet", stage=stage, spot=spot, px_per_mm=10.0))
        measure_job(store, job, workers=1)

    return given


def of(store: Store, job: str, name: str) -> PhotoResult:
    return next(one for one in results_of(store, job).values() if one.photograph.name == name)


def test_a_film_is_measured_and_kept_with_what_only_a_film_has(store: Store, job: str, give: Given) -> None:
    give("before.mp4", BEFORE)
    found = of(store, job, "before.mp4")
    assert (found.refused, found.film, found.record["score"]) == (None, True, None)
    film = found.record["film"]
    assert len(film["used"]) == len(film["to_first"]) == film["frames"] == 30
    assert 0 < film["directions_share"] <= 1
    film_whole = film_of(store, found)
    assert film_whole.rose.share == pytest.approx(film["directions_share"])
    assert picture_of(store, found).shape == (*film_whole.panel.zone.shape, 3)
    assert measurement_of(store, found).density == film_whole.panel.density
    (spot,) = overview(store, job).panels[0].stages[0].measured
    assert spot.film
    assert spot.figures.directions_share == film["directions_share"]


def test_two_films_are_compared_by_the_one_compare(store: Store, job: str, give: Given) -> None:
    give("before.mp4", BEFORE)
    give("after.mp4", AFTER)
    found = results.compare(store, job, "bonnet")
    change = found.result["density_mm_per_cm2"]["all"]
    assert (found.verdict, change["distinguishable"]) == ("yes", True)
    assert change["change_percent"] < -20
    assert "film directions" in [one["code"] for one in found.result["warning_details"]]
    assert results.compare(store, job, "bonnet").id == found.id  # kept, not made again


def test_a_film_against_a_photograph_is_refused_with_the_reason(store: Store, job: str, give: Given) -> None:
    give("before.mp4", BEFORE)
    give("photo.png", AFTER)
    found = results.compare(store, job, "bonnet")
    assert found.verdict == "no"
    assert "filmed before and photographed the other time" in found.result["reasons"][0]
    assert found.result["density_mm_per_cm2"]["all"]["change_percent"] is None
    (advice,) = results.advise(store, job, panel="bonnet")
    assert advice.advice.action == "inspect"
    assert [one.code for one in advice.advice.why] == ["films and photographs apart"]


def test_photographed_spots_beside_filmed_ones_are_left_out_and_named(
    store: Store, job: str, give: Callable[[str, str, str], None], files: dict[str, Path], tmp_path: Path
) -> None:
    give("before.mp4", BEFORE, "1")
    give("after.mp4", AFTER, "1")
    alone = results.compare(store, job, "bonnet").result["density_mm_per_cm2"]
    give("photo.png", BEFORE, "2")
    other = phantom.Shot(size_px=(480, 640), px_per_mm=10.0, seed=5)
    rgb = phantom.photograph(phantom.swirls(1, density_mm_per_cm2=60), other).rgb
    cv2.imwrite(str(tmp_path / "later.png"), rgb[..., ::-1])
    add_photograph(
        store, job, tmp_path / "later.png", Place(panel="bonnet", stage=AFTER, spot="2", px_per_mm=10.0)
    )
    measure_job(store, job, workers=1)
    found = results.compare(store, job, "bonnet").result
    assert found["density_mm_per_cm2"] == alone
    (said,) = [one for one in found["warning_details"] if one["code"] == "films count"]
    assert said["values"] == {"spots": "2"}
    stage = overview(store, job).panels[0].stages[0]
    assert stage.photographs == 2
    assert [one.film for one in stage.counting] == [True]
    assert stage.directions_share is not None


def test_films_alone_are_no_reason_to_polish(store: Store, job: str, give: Given) -> None:
    for kind in ("wash", "decontaminate"):
        add_step(store, job, "bonnet", StepSpec(kind=kind))
    give("before.mp4", BEFORE)
    (state,) = results.advise(store, job, panel="bonnet")
    assert state.advice.action == "photograph more spots"
    assert [one.code for one in state.advice.why] == ["film above", "photograph beside film"]
    assert "measured on films" in [one.code for one in state.advice.measured]


def test_a_film_that_is_cut_off_says_why_and_loses_nothing(
    store: Store, job: str, give: Given, files: dict[str, Path]
) -> None:
    give("cut.mp4", BEFORE)
    found = of(store, job, "cut.mp4")
    assert "cut off" in str(found.refused)
    assert "cut.mp4" in str(found.refused)
    assert store.originals.state(found.photograph.sha256) == "whole"
    give("before.mp4", BEFORE)
    assert of(store, job, "before.mp4").refused is None
    with pytest.raises(PhotoError, match="cut off"):
        film_of(store, found)


def test_corrections_by_hand_hold_in_the_comparison_too(store: Store, job: str, give: Given) -> None:
    give("before.mp4", BEFORE)
    give("after.mp4", AFTER)
    whole = results.compare(store, job, "bonnet").result
    correct(store, of(store, job, "before.mp4"), [Exclusion(left=0, top=0, right=640, bottom=720)])
    found = results.compare(store, job, "bonnet").result
    area, before = (one["spots"][0]["common_area_cm2"] for one in (found, whole))
    assert area < 0.7 * before
    assert found["by_hand"]["areas"] == 1
    assert found["by_hand"]["change_percent_without"] == whole["density_mm_per_cm2"]["all"]["change_percent"]


def test_a_job_with_films_goes_out_and_comes_back(
    store: Store, job: str, give: Given, tmp_path: Path
) -> None:
    give("before.mp4", BEFORE)
    give("after.mp4", AFTER)
    found = results.compare(store, job, "bonnet")
    file = export_job(store, job, tmp_path / "job.zip")
    with closing(open_store(tmp_path / "other")) as other:
        import_job(other, file)
        assert verify(other).sound
        assert of(other, job, "before.mp4").record == of(store, job, "before.mp4").record
        assert results.compare(other, job, "bonnet").result == found.result
        assert overview(other, job).panels[0].stages[0].measured[0].film
        again = film_of(other, of(other, job, "before.mp4"))  # not in the file: measured again
        assert np.array_equal(again.lines.um, film_of(store, of(store, job, "before.mp4")).lines.um)


def test_a_film_measured_in_an_earlier_way_is_renewed(
    store: Store, job: str, give: Given, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as earlier:
        earlier.setattr(measuring, "MEASURING", 1)
        give("before.mp4", BEFORE)
        give("after.mp4", AFTER)
        earlier.setattr(comparisons, "MEASURING", 1)
        earlier.setattr(versions, "MEASURING", 1)
        results.compare(store, job, "bonnet")
    assert of(store, job, "before.mp4").old
    whole._WHOLE.clear()  # as after a restart
    (panel,) = report_from_job(store, job, made_on="2026-01-05").panels
    assert panel.compared  # its figures are told, its pictures are not kept
    assert panel.pairs == ()
    assert measure_job(store, job, workers=1).measured == 0
    assert measure_job(store, job, workers=1, renew=True).measured == 2
    assert not of(store, job, "before.mp4").old


def test_how_far_a_film_is_stands_beside_its_place(
    store: Store, job: str, give: Given, tmp_path: Path
) -> None:
    place = tmp_path / "kept" / "film.npz"
    assert under_way(place) is None
    with telling(place) as tell:
        tell("measuring frames", 3, 60)
        found = under_way(place)
        assert found is not None
        assert (found.what, found.done, found.whole) == ("measuring frames", 3, 60)
    assert under_way(place) is None
    give("before.mp4", BEFORE)
    request = request_of(store, of(store, job, "before.mp4").photograph, {})
    assert under_way(request.shelf) is None
    place.with_suffix(".doing").write_text(json.dumps("what"))  # damaged
    assert under_way(place) is None


def test_a_full_disk_costs_no_film(tmp_path: Path) -> None:
    (tmp_path / "kept").write_text("a file where the folder should be")
    with telling(tmp_path / "kept" / "film.npz") as tell:
        tell("measuring frames", 1, 60)


def test_a_forged_film_in_a_result_is_not_taken_in(store: Store, job: str, give: Given) -> None:
    give("before.mp4", BEFORE)
    found = of(store, job, "before.mp4")
    settings = json.dumps(dict(found.settings))
    assert measurement_form_problem(json.dumps(found.record), settings) is None
    for key, value in (
        ("used", "all"),
        ("directions_share", 7.0),
        ("blind", [{"x_share": 0.5}]),
        ("lamps", [[1, 2, 3]]),
    ):
        forged = {**found.record, "film": {**found.record["film"], key: value}}
        assert "film" in str(measurement_form_problem(json.dumps(forged), settings)), key
