"""Adding, measuring, comparing and verifying on the record."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import text
from sqlalchemy.orm import undefer

from defectmap import errors, versions
from defectmap.record import comparisons, measuring, model, results, shelf
from defectmap.record.comparisons import CompareRequest, ComparisonRecord, comparisons_of
from defectmap.record.disk_originals import DiskOriginals
from defectmap.record.entries import StepSpec, add_step, set_aside
from defectmap.record.intake import Place, add_photograph, camera_time, photographs_of
from defectmap.record.keeping import results_of
from defectmap.record.measuring import PhotoRequest, keep, measure_job, request_of
from defectmap.record.overview import overview
from defectmap.record.sealing import canonical, pack, unpack
from defectmap.record.store import Store
from defectmap.record.verifying import verify
from defectmap.record.whole import uncorrected
from tests.record import fakes
from tests.record.kept import latest_measurements

BEFORE = Place(panel="bonnet", stage="decontaminated", px_per_mm=20.0)
AFTER = Place(panel="bonnet", stage="wiped", px_per_mm=20.0)
VERSION = fakes.VERSION
AREA = {"what": "area", "left": 0.0, "top": 0.0, "right": 5.0, "bottom": 5.0}


def measure_all(store: Store, job: str, **options: object) -> object:
    return measure_job(store, job, measure=fakes.measure, **options)  # type: ignore[arg-type]


@pytest.fixture
def filled(store: Store, job: str, tmp_path: Path) -> str:
    """Job with two photographs before and after on the bonnet, measured."""
    for number, place in enumerate([BEFORE, AFTER]):
        add_photograph(store, job, fakes.photo(tmp_path, number), place)
    measure_all(store, job)
    return job


def test_a_photograph_stands_at_its_place(store: Store, job: str, tmp_path: Path) -> None:
    file = fakes.photo(tmp_path, 1)
    added = add_photograph(store, job, file, BEFORE)
    assert added.new
    assert photographs_of(store, job) == (added.photograph,)
    assert store.originals.kept(added.photograph.sha256).path.read_bytes() == file.read_bytes()
    assert "no wash" in {gate.code for gate in added.photograph.warnings}
    again = add_photograph(store, job, file, BEFORE)
    assert not again.new
    assert again.photograph == added.photograph


@pytest.mark.skipif(os.name != "posix", reason="other systems do not allow such names")
def test_a_photograph_of_any_name_can_be_added(store: Store, job: str, tmp_path: Path) -> None:
    for number, name in enumerate(["a\nb\x1b[2J.jpg", "K\udcfcche.jpg", "x" * 250 + ".jpg"]):
        file = fakes.photo(tmp_path, number).rename(tmp_path / name)
        shown = add_photograph(store, job, file, BEFORE).photograph.name
        assert shown.isprintable()
        assert shown.endswith(".jpg")
        assert len(shown) <= 200


def test_the_same_photograph_cannot_be_before_and_after(store: Store, job: str, tmp_path: Path) -> None:
    file = fakes.photo(tmp_path, 1)
    added = add_photograph(store, job, file, BEFORE).photograph
    with pytest.raises(errors.AlreadyInRecord, match=r"^again\.jpg is .* bonnet, spot 1, decontaminated"):
        add_photograph(store, job, file, AFTER, name="again.jpg")
    set_aside(store, job, "photograph", added.id, why="wrong stage")
    assert photographs_of(store, job) == ()
    moved = add_photograph(store, job, file, AFTER).photograph
    assert (moved.id, moved.stage, moved.set_aside) == (added.id, "wiped", None)


def test_nothing_is_copied_for_a_place_that_is_not_there(store: Store, job: str, tmp_path: Path) -> None:
    with pytest.raises(errors.NotInRecord, match="wing"):
        add_photograph(store, job, fakes.photo(tmp_path, 1), Place(panel="wing", stage="washed"))
    with pytest.raises(errors.JobError, match="stage"):
        add_photograph(store, job, fakes.photo(tmp_path, 1), Place(panel="roof", stage="polished"))
    both = Place(panel="roof", stage="washed", px_per_mm=20, field_width_mm=100)
    with pytest.raises(errors.JobError, match="not both"):
        add_photograph(store, job, fakes.photo(tmp_path, 1), both)
    assert list(store.originals.strays(())) == []


def test_the_camera_clock_is_read_with_its_time_zone(tmp_path: Path) -> None:
    picture = Image.new("RGB", (8, 8))
    exif = Image.Exif()
    exif.get_ifd(0x8769).update({0x9003: "2026:03:02 10:30:00", 0x9011: "+02:00"})
    picture.save(tmp_path / "a.jpg", exif=exif)
    assert camera_time(tmp_path / "a.jpg") == "2026-03-02T08:30:00.000000+00:00"
    picture.save(tmp_path / "b.jpg")
    assert camera_time(tmp_path / "b.jpg") is None
    assert camera_time(fakes.photo(tmp_path, 1)) is None


def test_only_what_is_unmeasured_is_measured(store: Store, filled: str, tmp_path: Path) -> None:
    first = latest_measurements(store, filled)
    add_photograph(store, filled, fakes.photo(tmp_path, 7), Place(panel="roof", stage="washed"))
    steps: list[tuple[int, int, str]] = []
    run = measure_job(
        store,
        filled,
        measure=fakes.measure,
        progress=lambda done, total, what: steps.append((done, total, what)),
    )
    assert (run.measured, steps) == (1, [(1, 1, "shot_0007.jpg")])
    assert first.items() <= latest_measurements(store, filled).items()


def test_renewing_keeps_the_older_result(store: Store, filled: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert measure_job(store, filled, measure=fakes.measure, renew=True).measured == 0  # nothing is old
    raise_measuring_version(monkeypatch)
    assert overview(store, filled).old == 2
    assert all(one.old for one in results_of(store, filled).values())
    assert measure_job(store, filled, measure=fakes.measure).measured == 0  # only on request
    assert measure_job(store, filled, measure=fakes.measure, renew=True).measured == 2
    assert overview(store, filled).old == 0
    report = verify(store, filled)
    assert [(f.kind, f.wrong) for f in report.findings] == [("older result", False)] * 2
    assert report.results == 4
    assert measure_job(store, filled, measure=fakes.measure, renew=True).measured == 0


def test_renewing_does_not_lose_what_was_corrected_by_hand(
    store: Store, filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[object] = []

    def measure(request: PhotoRequest) -> dict[str, object]:
        seen.append(request.settings.get("corrections"))
        return fakes.measure(request)

    for one in photographs_of(store, filled):
        request = request_of(store, one, {"corrections": [AREA], "revision": 1})
        keep(store, request, fakes.measure(request))
    raise_measuring_version(monkeypatch)
    measure_job(store, filled, measure=measure, renew=True)
    assert seen == [[AREA]] * 2
    assert all(m.settings["revision"] == 1 for m in latest_measurements(store, filled).values())


def test_old_and_new_results_are_never_compared(
    store: Store, filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = fake_comparing(monkeypatch)
    raise_measuring_version(monkeypatch)
    with pytest.raises(errors.OldResult, match="--renew"):  # nothing was compared when they were measured
        results.compare(store, filled, "bonnet")
    monkeypatch.undo()
    calls = fake_comparing(monkeypatch)
    made = results.compare(store, filled, "bonnet")
    raise_measuring_version(monkeypatch)
    again = results.compare(store, filled, "bonnet")
    assert (again.id, again.old, made.settings["measuring"]) == (made.id, True, versions.MEASURING - 1)
    measure_job(store, filled, measure=fakes.measure, renew=True)
    renewed = results.compare(store, filled, "bonnet")
    assert (renewed.id != made.id, renewed.old, len(calls)) == (True, False, 2)


def raise_measuring_version(monkeypatch: pytest.MonkeyPatch) -> None:
    """As the next version of the program, which measures in another way."""
    raised = versions.MEASURING + 1
    for module in (versions, measuring, comparisons, shelf):
        monkeypatch.setattr(module, "MEASURING", raised)


def fake_comparing(monkeypatch: pytest.MonkeyPatch) -> list[CompareRequest]:
    """Let comparing need no picture; what it is asked for is listed."""
    calls: list[CompareRequest] = []

    def compared(
        _store: object, request: CompareRequest, _results: object, *, profile: object
    ) -> dict[str, object]:
        calls.append(request)
        return fakes.compare(request)

    monkeypatch.setattr(results, "compared", compared)
    return calls


def test_a_result_keeps_what_made_it(store: Store, filled: str) -> None:
    measurement = next(iter(latest_measurements(store, filled).values()))
    assert measurement.program_version == VERSION
    scale = {"px_per_mm": 20.0, "field_width_mm": None}
    assert measurement.settings == {"scale": scale, "measuring": versions.MEASURING}
    assert measurement.figures.calibrated
    result = results_of(store, filled)[measurement.photograph_id].record
    assert result["density_mm_per_cm2"]["all"] == measurement.figures.every_mark
    assert result["marks"]


def test_workers_give_the_same_results_as_one_process(
    store: Store, job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(5):
        add_photograph(store, job, fakes.photo(tmp_path, number), BEFORE)
    run = measure_all(store, job, workers=2)
    assert run.measured == 5  # type: ignore[attr-defined]
    monkeypatch.setattr(measuring, "measure_photograph", fakes.measure)
    assert verify(store, again=True).findings == ()


def test_a_refusal_is_a_result_and_a_fault_is_not(store: Store, job: str, tmp_path: Path) -> None:
    for number in range(3):
        add_photograph(store, job, fakes.photo(tmp_path, number), BEFORE)
    run = measure_job(store, job, measure=fakes.stumble)
    assert run.measured == 2
    assert len(run.failed) == 1
    assert "shot_0001.jpg: unexpected ZeroDivisionError" in run.failed[0]
    run = measure_job(store, job, measure=fakes.refuse)
    assert "No lamp reflection in shot_0001.jpg" in run.refused[0]
    look = overview(store, job)
    assert (look.photographs, look.refused, look.unmeasured) == (3, 1, 0)


def test_two_runs_that_measure_one_photograph_keep_one_result(store: Store, job: str, tmp_path: Path) -> None:
    add_photograph(store, job, fakes.photo(tmp_path, 1), BEFORE)

    def measure_while_another_does(request: PhotoRequest) -> dict[str, object]:
        with store.writing() as session:  # this run has stalled for longer than its lease
            session.execute(text("DELETE FROM lease"))
        measure_all(store, job)
        return fakes.measure(request)

    run = measure_job(store, job, measure=measure_while_another_does)
    assert run.measured == 1
    assert verify(store).results == 1


def test_a_worker_that_dies_is_said_and_what_was_finished_is_kept(
    store: Store, job: str, tmp_path: Path
) -> None:
    for number in range(4):
        add_photograph(store, job, fakes.photo(tmp_path, number), BEFORE)
    with pytest.raises(errors.JobError, match="fewer workers"):
        measure_job(store, job, measure=fakes.measure_one_then_die, workers=2)
    kept = len(latest_measurements(store, job))
    again = measure_job(store, job, measure=fakes.measure)
    assert (kept, again.measured) == (1, 3)
    assert overview(store, job).unmeasured == 0


def test_a_damaged_original_is_not_measured(store: Store, job: str, tmp_path: Path) -> None:
    added = add_photograph(store, job, fakes.photo(tmp_path, 1), BEFORE)
    store.originals.kept(added.photograph.sha256).path.unlink()
    run = measure_job(store, job, measure=fakes.measure)
    assert (run.measured, len(run.failed)) == (0, 1)
    assert "missing" in run.failed[0]


def alter(store: Store, sha256: str) -> None:
    path = store.originals.kept(sha256).path
    path.chmod(0o644)
    path.write_bytes(path.read_bytes()[:-1] + b"!")


def test_an_altered_original_is_not_measured(store: Store, job: str, tmp_path: Path) -> None:
    """Its figures would stand beside the hash of another photograph."""
    added = add_photograph(store, job, fakes.photo(tmp_path, 1), BEFORE)
    alter(store, added.photograph.sha256)
    run = measure_job(store, job, measure=fakes.measure)
    assert (run.measured, len(run.failed)) == (0, 1)
    assert "altered" in run.failed[0]
    assert latest_measurements(store, job) == {}


def test_an_altered_original_is_not_read_for_a_comparison_or_a_picture(store: Store, filled: str) -> None:
    one = photographs_of(store, filled)[0]
    assert hashlib.sha256(store.originals.read(one.sha256, name=one.name)).hexdigest() == one.sha256
    alter(store, one.sha256)
    with pytest.raises(errors.OriginalDamaged, match=f"original of {one.name} is altered"):
        store.originals.read(one.sha256, name=one.name)
    result = results_of(store, filled)[one.id]
    with pytest.raises(errors.OriginalDamaged, match=f"original of {one.name} is altered"):
        uncorrected(store, result)  # nothing is on the shelf, so it would be measured again
    store.originals.kept(one.sha256).path.unlink()
    with pytest.raises(errors.OriginalDamaged, match="is missing"):
        store.originals.read(one.sha256, name=one.name)


def test_another_scale_is_another_comparison(
    store: Store, filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = fake_comparing(monkeypatch)
    first = results.compare(store, filled, "bonnet")
    with store.writing() as session:
        for row in session.query(model.Photograph):
            row.px_per_mm = 25.0
    measure_job(store, filled, measure=fakes.measure)
    again = results.compare(store, filled, "bonnet")
    assert (again.id != first.id, len(calls)) == (True, 2)
    assert again.settings["scale"] == [[25.0, None], [25.0, None]]


def test_a_comparison_is_made_once_and_kept(
    store: Store, filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = fake_comparing(monkeypatch)
    first = results.compare(store, filled, "bonnet")
    assert first.verdict == "yes"
    assert first.result["claim"]["word"] == "less visible"  # no wipe is recorded
    assert results.compare(store, filled, "bonnet") == first
    assert len(calls) == 1
    for kind in ("correct", "wipe"):
        add_step(store, filled, "bonnet", StepSpec(kind=kind))
    wiped = results.compare(store, filled, "bonnet")
    assert wiped.result["claim"]["word"] == "removed"  # the record has changed, so it is compared anew
    assert comparisons_of(store, filled) == (first, wiped)
    with pytest.raises(errors.NotInRecord, match="No spot of roof"):
        results.compare(store, filled, "roof")


def test_a_sound_record_verifies(store: Store, filled: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(measuring, "measure_photograph", fakes.measure)
    report = verify(store, again=True)
    assert report.sound
    assert (report.originals, report.results, report.findings) == (2, 2, ())


def test_a_tampered_and_a_missing_original_are_named(store: Store, filled: str) -> None:
    first, second = photographs_of(store, filled)
    path = store.originals.kept(first.sha256).path
    path.chmod(0o644)
    data = bytearray(path.read_bytes())
    data[100] ^= 1  # one bit
    path.write_bytes(data)
    store.originals.kept(second.sha256).path.unlink()
    found = {f.kind: f.where for f in verify(store, filled).findings}
    assert found.keys() == {"original altered", "original missing"}
    assert first.name in found["original altered"]
    assert second.name in found["original missing"]
    assert path.read_bytes() == data  # looked at, not touched


def edit_body(store: Store, edit: object) -> None:
    with store.writing() as session:
        query = session.query(model.Measurement).order_by(model.Measurement.id)
        row = query.options(undefer(model.Measurement.body)).first()
        edit(row)  # type: ignore[operator]


def flatter(row: model.Measurement) -> None:
    result = json.loads(unpack(row.body))
    result["density_mm_per_cm2"]["all"] = 0.1
    row.body = pack(canonical(result))


def flatter_everywhere(row: model.Measurement) -> None:
    flatter(row)
    row.every_mark = 0.1


def flatter_beside(row: model.Measurement) -> None:
    row.every_mark = 0.1


def pretend_version(row: model.Measurement) -> None:
    row.program_version = "9.9"


def pretend_settings(row: model.Measurement) -> None:
    row.settings = canonical({"scale": {"px_per_mm": 40.0, "field_width_mm": None}})


def garble(row: model.Measurement) -> None:
    row.body = row.body[:-4]


@pytest.mark.parametrize(
    "edit", [flatter, flatter_everywhere, flatter_beside, pretend_version, pretend_settings, garble]
)
def test_an_edited_result_is_found_and_not_used(store: Store, filled: str, edit: object) -> None:
    results_of(store, filled)  # what was opened before the edit must not hide it
    edit_body(store, edit)
    findings = verify(store, filled).findings
    assert [f.kind for f in findings] == ["result altered"]
    with pytest.raises(errors.JobError, match="cannot be trusted"):
        results_of(store, filled)


def test_a_result_that_does_not_repeat_is_found(
    store: Store, filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def other(request: PhotoRequest) -> dict[str, object]:
        return {**fakes.measure(request), "score": 99.0}

    monkeypatch.setattr(measuring, "measure_photograph", other)
    findings = verify(store, filled, again=True).findings
    assert [f.kind for f in findings] == ["result not repeated"] * 2


def test_strays_and_leftovers_are_notes(store: Store, filled: str) -> None:
    assert isinstance(store.originals, DiskOriginals)
    (store.originals.folder / "ab").mkdir(exist_ok=True)
    (store.originals.folder / "ab" / "cd").write_bytes(b"x")
    (store.originals.incoming / "x.part").write_bytes(b"x")
    report = verify(store)
    assert [f.kind for f in report.findings] == ["stray file", "unfinished copy"]
    assert report.sound


def test_a_row_that_leads_nowhere_is_found_on_sqlite(store: Store, filled: str) -> None:
    if store.engine.dialect.name != "sqlite":
        pytest.skip("the server does not let such a row in")
    with store.engine.connect() as connection:
        connection.exec_driver_sql("ROLLBACK")
        connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
        connection.exec_driver_sql("BEGIN")
        connection.execute(text("DELETE FROM spot"))
        connection.commit()
    assert "database damaged" in {f.kind for f in verify(store).findings}


def test_the_overview_counts_by_panel_and_stage(store: Store, filled: str) -> None:
    look = overview(store, filled)
    bonnet, roof = look.panels
    assert [(s.stage, s.photographs, len(s.measured)) for s in bonnet.stages] == [
        ("decontaminated", 1, 1),
        ("wiped", 1, 1),
    ]
    assert (bonnet.stage, roof.stage) == ("wiped", None)
    density = bonnet.at("wiped").mean_density  # type: ignore[union-attr]
    (after,) = (p for p in photographs_of(store, filled) if p.stage == "wiped")
    first = store.originals.kept(after.sha256).path.read_bytes()[0]
    assert density == pytest.approx(first / 10 + first / 100)


def test_what_was_corrected_by_hand_is_compared_and_compared_anew(
    store: Store, filled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = fake_comparing(monkeypatch)

    def made() -> ComparisonRecord:
        return results.compare(store, filled, "bonnet")

    def correct(corrections: list[dict[str, object]], revision: int) -> None:
        after = next(p for p in photographs_of(store, filled) if p.stage == "wiped")
        request = request_of(store, after, {"corrections": corrections, "revision": revision})
        keep(store, request, fakes.measure(request))

    first = made()
    correct([AREA], 1)
    second = made()
    assert second.id != first.id
    seen = [[one.settings.get("corrections") for one in call.photographs] for call in calls]
    assert seen == [[None, None], [None, [AREA]]]
    assert list(second.settings["corrections"].values()) == [[AREA]]
    correct([], 2)  # undone: the first comparison counts again, and nothing is compared
    assert made() == first
    assert len(calls) == 2
