"""The command line on rendered photographs: what is written, what is said, how it ends."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner, Result

from defectmap.commands.program import LAZY_COMMANDS, app
from defectmap.panel.codec import SCHEMA
from tests.phantom import Shot, photograph, scratches, swirls

runner = CliRunner()
PX_PER_MM = 10.0


@pytest.fixture(scope="module")
def swirled_jpeg() -> bytes:
    grooves = [*swirls(3, density_mm_per_cm2=30.0), *scratches(4, count=4)]
    rgb = photograph(grooves, Shot(px_per_mm=PX_PER_MM)).rgb
    return cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 95])[1].tobytes()


@pytest.fixture
def folder(tmp_path: Path, swirled_jpeg: bytes) -> Path:
    (tmp_path / "door.jpg").write_bytes(swirled_jpeg)
    (tmp_path / "poem.jpg").write_text("Not a picture at all.")
    return tmp_path


def run(*arguments: Any) -> Result:
    return runner.invoke(app, [str(argument) for argument in arguments])


def test_one_photograph_writes_record_zone_and_overlay(folder: Path) -> None:
    outputs = [folder / name for name in ("door.json", "zone.png", "marks.png")]
    result = run(
        *("measure", folder / "door.jpg", "--px-per-mm", PX_PER_MM),
        *("--json", outputs[0], "--zone", outputs[1], "--overlay", outputs[2]),
    )
    assert result.exit_code == 0, result.output
    record = json.loads(outputs[0].read_text())
    assert record["schema"] == SCHEMA
    assert record["scale"] == {"px_per_mm": PX_PER_MM, "source": "typed", "tilt_deg": None}
    assert record["zone"]["mask_png"] == str(outputs[1])
    assert record["marks"]
    zone = cv2.imread(str(outputs[1]), cv2.IMREAD_GRAYSCALE)
    assert zone is not None
    assert zone.shape == (record["photo"]["height_px"], record["photo"]["width_px"])
    # The record's area is the mask's, by the scale: an identity.
    assert record["zone"]["area_cm2"] == pytest.approx((zone > 0).sum() / PX_PER_MM**2 / 100, rel=1e-9)
    drawn = cv2.imread(str(outputs[2]))
    assert drawn is not None
    assert drawn.shape[1] >= record["photo"]["width_px"]
    assert "mm/cm²" in result.stdout
    assert "uncalibrated" not in result.output


def test_density_is_the_length_of_marks_over_the_zone(folder: Path) -> None:
    run("measure", folder / "door.jpg", "--px-per-mm", PX_PER_MM, "--json", folder / "door.json")
    record = json.loads((folder / "door.json").read_text())
    for kind in ("swirl", "scratch"):
        # what stronger neighbours hide of a mark's like is counted with it
        length = sum(
            mark["length_mm"] * mark.get("stands_for", 1.0)
            for mark in record["marks"]
            if mark["kind"] == kind
        )
        assert record["density_mm_per_cm2"][kind] == pytest.approx(
            length / record["zone"]["area_cm2"], rel=1e-6
        )


def test_json_on_standard_output_is_alone_there(folder: Path) -> None:
    result = run("measure", folder / "door.jpg", "--px-per-mm", PX_PER_MM, "--json", "-")
    assert json.loads(result.stdout)["refused"] is None
    assert "mm/cm²" in result.stderr


def test_without_scale_every_output_says_uncalibrated(folder: Path) -> None:
    result = run("measure", folder / "door.jpg", "--json", folder / "door.json")
    record = json.loads((folder / "door.json").read_text())
    assert result.exit_code == 0
    assert record["scale"]["source"] == "none"
    assert record["calibrated"] is False
    assert any("uncalibrated" in warning for warning in record["warnings"])
    assert "uncalibrated" in result.stdout
    assert "mm" not in result.stdout.replace("px/mm", "")


def test_field_width_gives_the_scale(folder: Path) -> None:
    run("measure", folder / "door.jpg", "--field-width-mm", "90", "--json", folder / "door.json")
    scale = json.loads((folder / "door.json").read_text())["scale"]
    # 900 px across 90 mm; by definition.
    assert (scale["px_per_mm"], scale["source"]) == (pytest.approx(10.0), "field-width")


def test_one_refused_photograph_does_not_stop_the_others(folder: Path) -> None:
    result = run(
        "measure",
        folder / "poem.jpg",
        folder / "door.jpg",
        "--px-per-mm",
        "10",
        "--json",
        folder / "all.json",
    )
    refused, measured = json.loads((folder / "all.json").read_text())
    assert result.exit_code == 3
    assert refused["refused"]
    assert "marks" not in refused
    assert measured["refused"] is None
    assert measured["marks"]
    refusals = [line for line in result.stderr.splitlines() if line.startswith("Refused")]
    assert len(refusals) == 1
    assert "poem.jpg" in refusals[0]


def test_several_photographs_get_a_file_each(folder: Path, swirled_jpeg: bytes) -> None:
    (folder / "hood.jpg").write_bytes(swirled_jpeg)
    result = run(
        *("measure", folder / "door.jpg", folder / "hood.jpg", "--px-per-mm", "10"),
        *("--zone", folder / "zones" / "z.png", "--overlay", folder / "pictures"),
    )
    assert result.exit_code == 0, result.output
    assert sorted(path.name for path in (folder / "zones").iterdir()) == ["z-door.png", "z-hood.png"]
    assert sorted(p.name for p in (folder / "pictures").iterdir()) == ["door-overlay.png", "hood-overlay.png"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["measure"], "Missing argument"),
        (["measure", "gone.jpg"], "not found: gone.jpg"),
        (["measure", "DOOR", "--px-per-mm", "0"], "above 0"),
        (["measure", "DOOR", "--px-per-mm", "nan"], "above 0"),
        (["measure", "DOOR", "--field-width-mm", "-3"], "above 0"),
        (["measure", "DOOR", "--px-per-mm", "10", "--field-width-mm", "90"], "not both"),
        (["measure", "DOOR", "--overlay", "DOOR"], "one of the photographs"),
        (["measure", "DOOR", "--json", "DOOR"], "one of the photographs"),
        (["measure", "DOOR", "--zone", "zone.jpg"], "must end in .png"),
        (["measure", "DOOR", "--overlay", "marks.doc"], "or name a folder"),
        (["wash"], "No such command"),
        (["card", "--paper", "a3"], "neither a4 nor letter"),
        (["card", "--out", "DOOR/card.pdf"], "cannot be written"),
    ],
)
def test_wrong_usage_is_status_2_and_one_clear_line(folder: Path, arguments: list[str], said: str) -> None:
    result = run(*(argument.replace("DOOR", str(folder / "door.jpg")) for argument in arguments))
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.output


def test_photographs_are_left_as_they_were(folder: Path, swirled_jpeg: bytes) -> None:
    run("measure", folder / "door.jpg", "--px-per-mm", "10", "--overlay", folder / "out")
    assert (folder / "door.jpg").read_bytes() == swirled_jpeg


def test_pipe_sees_no_progress_bar(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "defectmap", "measure", folder / "door.jpg", "--px-per-mm", "10"],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | {"PYTHONIOENCODING": "utf-8"},
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == "" or "measuring" not in done.stderr
    assert "\x1b" not in done.stdout + done.stderr


def test_console_that_lacks_a_letter_does_not_stop_the_work(folder: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "defectmap", "measure", folder / "door.jpg", "--px-per-mm", "10"],
        capture_output=True,
        env=os.environ | {"PYTHONIOENCODING": "ascii"},
    )
    assert done.returncode == 0, done.stderr
    assert b"mm/cm?" in done.stdout


def test_help_is_quick() -> None:
    resource = pytest.importorskip("resource")  # of POSIX systems
    times = []
    for _ in range(3):
        start = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-m", "defectmap", "--help"], check=True, capture_output=True)
        end = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(end.ru_utime - start.ru_utime + end.ru_stime - start.ru_stime)
    # A tenth of a second is the promise, twice that the limit; processor time, and the best of three, because
    # the computer may be busy with other things.
    assert min(times) < 0.2


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, defectmap.commands.program as c, typer.main; "
        "typer.main.get_command(c.app); print(*sys.modules)"
    )
    loaded = set(
        subprocess.run(
            [sys.executable, "-c", code], check=True, capture_output=True, text=True
        ).stdout.split()
    )
    assert not loaded & {"cv2", "numpy", "scipy", "skimage", "PIL", "streamlit", "sqlalchemy", "pydantic"}


@pytest.mark.parametrize("command", ["measure", "demo", "card", *LAZY_COMMANDS])
def test_every_command_has_help(command: str) -> None:
    assert f"\n  {command} " in run("--help").output
    assert run(command, "--help").exit_code == 0


def test_card_is_a_pdf(tmp_path: Path) -> None:
    assert run("card", "--out", tmp_path / "card.pdf").exit_code == 0
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")


def test_zone_is_written_for_a_photograph_alone(folder: Path) -> None:
    run("measure", folder / "door.jpg", "--px-per-mm", "10", "--zone", folder / "zone.png")
    zone = cv2.imread(str(folder / "zone.png"), cv2.IMREAD_UNCHANGED)
    assert zone is not None
    assert set(np.unique(zone)) == {0, 255}
