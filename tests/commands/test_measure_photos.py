"""`measure` over many photographs: results as they come, one bad thing costing nothing else."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from defectmap.commands import measure_many, measure_photos, measure_work
from defectmap.commands.measure_many import results
from defectmap.commands.measure_work import KILLED, Done, Work
from defectmap.commands.program import app
from defectmap.panel.photo.photograph import Photo
from tests.phantom import Shot, photograph, swirls
from tests.photofiles import saved

PX_PER_MM = 10.0
runner = CliRunner()


@pytest.fixture(scope="module")
def jpeg() -> bytes:
    return saved(
        photograph(swirls(3, density_mm_per_cm2=30.0), Shot(px_per_mm=PX_PER_MM)).rgb, "JPEG", quality=95
    )


@pytest.fixture
def folder(tmp_path: Path, jpeg: bytes) -> Path:
    for name in ("a.jpg", "b.jpg", "c.jpg"):
        (tmp_path / name).write_bytes(jpeg)
    return tmp_path


def run(*arguments: object) -> Result:
    return runner.invoke(app, [str(argument) for argument in arguments])


def measured_names(file: Path) -> list[str]:
    return [record["photo"]["name"] for record in json.loads(file.read_text()) if not record["refused"]]


def test_a_photograph_is_not_overwritten_by_a_record(folder: Path, jpeg: bytes) -> None:
    for command in (
        ("measure", folder / "a.jpg", "--json"),
        ("job", "status", "J", "--record", folder / "r", "--json"),
    ):
        result = run(*command, folder / "b.jpg")
        assert result.exit_code == 2
        assert (folder / "b.jpg").read_bytes() == jpeg


def test_two_results_of_one_name_are_refused_before_work(folder: Path) -> None:
    result = run("measure", folder / "a.jpg", "--zone", folder / "x.png", "--overlay", folder / "x.png")
    assert result.exit_code == 2
    assert "Two results would be written" in result.output
    assert not (folder / "x.png").exists()


def test_a_fault_in_one_photograph_costs_only_it(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = vars(measure_work)["measure"]

    def faulty(shot: Photo, **scale: object) -> object:
        if shot.facts.name == "b.jpg":
            raise ZeroDivisionError("odd")
        return real(shot, **scale)

    monkeypatch.setattr(measure_work, "measure", faulty)
    result = run("measure", folder, "--px-per-mm", PX_PER_MM, "--json", folder / "out.json")
    assert result.exit_code == 3
    assert "Failed: b.jpg: unexpected ZeroDivisionError: odd; please report this" in result.output
    assert measured_names(folder / "out.json") == ["a.jpg", "c.jpg"]


def test_a_mask_that_cannot_be_written_costs_no_result(folder: Path) -> None:
    (folder / "zones").mkdir()
    (folder / "zones" / "b-zone.png").symlink_to(folder / "a.jpg" / "nowhere.png")
    result = run("measure", folder, "--json", folder / "out.json", "--zone", folder / "zones")
    assert result.exit_code == 3
    assert "Not written: " in result.output
    records = json.loads((folder / "out.json").read_text())
    masks = [record["zone"]["mask_png"] for record in records]
    assert masks == [str(folder / "zones/a-zone.png"), None, str(folder / "zones/c-zone.png")]


def test_results_are_there_before_the_run_ends(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[int] = []

    def stops_at_c(work: Work) -> Done:
        if work.name == "c.jpg":
            seen.append((folder / "out.json.unfinished").read_text().count('"schema"'))
            raise KeyboardInterrupt
        return measure_work.do_work(work)

    monkeypatch.setattr(measure_many, "do_work_alone", stops_at_c)
    options = measure_photos.MeasureOptions(json_file=folder / "out.json")
    with pytest.raises(KeyboardInterrupt):
        measure_photos.run_measure([folder], options)
    assert seen == [2]
    assert not (folder / "out.json").exists()
    assert measured_names(folder / "out.json.unfinished") == ["a.jpg", "b.jpg"]


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="signals")
def test_an_interrupt_leaves_sound_json_and_no_worker(folder: Path, jpeg: bytes) -> None:
    for number in range(40):
        (folder / f"d{number:02}.jpg").write_bytes(jpeg)
    command = [
        sys.executable,
        "-m",
        "defectmap",
        "measure",
        str(folder),
        "--jobs",
        "2",
        "--json",
        str(folder / "out.json"),
    ]
    process = subprocess.Popen(
        command,
        start_new_session=True,
        stderr=subprocess.DEVNULL,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # in a background job it is ignored
    )
    unfinished = folder / "out.json.unfinished"
    while not (unfinished.exists() and unfinished.stat().st_size > 1000):
        time.sleep(0.05)
    os.kill(process.pid, signal.SIGINT)
    assert process.wait(60) != 0
    assert not (folder / "out.json").exists()
    assert len(measured_names(unfinished)) > 0
    for _ in range(100):
        try:
            os.killpg(process.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.1)
    pytest.fail("a worker is left")


@pytest.mark.slow
def test_jobs_change_neither_order_nor_figures(folder: Path) -> None:
    (folder / "bb.jpg").write_text("no picture")
    for jobs in (1, 2):
        result = run(
            "measure", folder, "--px-per-mm", PX_PER_MM, "--json", folder / f"{jobs}.json", "--jobs", jobs
        )
        assert result.exit_code == 3
    assert json.loads((folder / "1.json").read_text()) == json.loads((folder / "2.json").read_text())


def kill_on_b(work: Work) -> Done:
    """In a worker: dies over one file, as over a decoder's fault."""
    if work.name == "b.jpg":
        os.kill(os.getpid(), signal.SIGKILL)
    return Done(record={"photo": {"name": work.name}, "refused": None})


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="signals")
def test_a_photograph_that_kills_its_worker_fails_alone(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(measure_many, "do_work_alone", kill_on_b)
    names = ["a.jpg", "b.jpg", *(f"{number:03}.jpg" for number in range(30))]
    found = list(results([Work(name=name, source=tmp_path / name) for name in names], jobs=3))
    assert [done.record["photo"]["name"] for done in found] == names
    assert [done.fault for done in found] == [None, KILLED, *[None] * 30]


@pytest.mark.skipif(os.name != "posix", reason="Windows has no such names")
def test_no_name_drives_the_terminal(tmp_path: Path, jpeg: bytes) -> None:
    for name in ("a\x1b[2J.jpg", "b\x1b[2J.jpg"):
        (tmp_path / name).write_bytes(jpeg)
    (tmp_path / "c\x1b[2J.jpg").write_text("no picture")
    for photos in ([tmp_path], [tmp_path / "a\x1b[2J.jpg"], [tmp_path / "none\x1b[2J"]):
        result = run("measure", *photos)
        assert "\x1b[2J" not in result.output
        assert "\\x1b[2J" in result.output
