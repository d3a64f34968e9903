import io
import json
import os
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from defectmap.outputs import (
    OutputError,
    check_outputs,
    find_photos,
    overwriting,
    plan_outputs,
    refuse_foreign,
    write_file,
)
from defectmap.panel.card import card_pdf
from defectmap.report.guide_sheet import guide_pdf
from defectmap.report.table import HEAD
from tests.photofiles import gradient, saved


def plan(target: str | None, photos: list[str]) -> list[Path | None]:
    return plan_outputs(
        Path(target) if target else None, [Path(p) for p in photos], ending="-zone", suffix=".png"
    )


@pytest.mark.parametrize(
    ("target", "photos", "expected"),
    [
        (None, ["a.jpg", "b.jpg"], [None, None]),
        ("zone.png", ["a.jpg"], ["zone.png"]),
        ("zone.png", ["a.jpg", "b.jpg"], ["zone-a.png", "zone-b.png"]),
        ("zones", ["a.jpg"], ["zones/a-zone.png"]),
        ("zones", ["x/a.jpg", "y/a.jpg"], ["zones/a-zone.png", "zones/a-zone-2.png"]),
    ],
)
def test_one_file_each(target: str | None, photos: list[str], expected: list[str | None]) -> None:
    assert plan(target, photos) == [name and Path(name) for name in expected]


def test_a_photograph_is_never_written_over(tmp_path: Path) -> None:
    shot = tmp_path / "a.png"
    shot.write_bytes(b"picture")
    with overwriting(True), pytest.raises(OutputError, match="is one of the photographs"):
        check_outputs(plan_outputs(shot, [shot], ending="-zone", suffix=".png"), [shot])


def test_folder_stands_for_its_pictures(tmp_path: Path) -> None:
    for name in ("b.JPG", "a.heic", "notes.txt"):
        (tmp_path / name).touch()
    assert [p.name for p in find_photos([tmp_path])] == ["a.heic", "b.JPG"]


def test_folder_without_pictures_and_missing_file_are_said(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="No picture in the folder"):
        find_photos([tmp_path])
    with pytest.raises(OutputError, match=r"not found: .*gone\.jpg"):
        find_photos([tmp_path / "gone.jpg"])


def test_two_results_of_one_name_are_refused_before_work(tmp_path: Path) -> None:
    there = tmp_path / "x" / ".." / "out.png"
    with pytest.raises(OutputError, match=r"Two results would be written to .*give each a name of its own"):
        check_outputs([tmp_path / "out.png", None, there])


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("precious.jpg", saved(gradient(), "JPEG"), "is a picture that defectmap did not write"),
        ("notes.txt", b"How to use defectmap: read on.", "is a file that defectmap did not write"),
        ("package.json", b'{"name": "something else"}', "is a file that defectmap did not write"),
    ],
)
def test_a_file_of_somebody_else_is_left_alone_unless_told(
    tmp_path: Path, name: str, data: bytes, words: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(OutputError, match=f"{words}; choose another name, or say --overwrite"):
        write_file(path, b"{}")
    assert path.read_bytes() == data
    with overwriting(True):
        write_file(path, b"{}")
    assert path.read_bytes() == b"{}"


OURS = {
    "record.json": json.dumps({"schema": 1, "program": "defectmap 0.1.0"}).encode(),
    "zone.png": saved(gradient(), "PNG"),
    "overlay.jpg": saved(gradient(), "JPEG"),
    "card.pdf": card_pdf(),
    "guide.pdf": guide_pdf(),
    "report.html": b"<!doctype html>\n<title>Report</title>\n",
    "table.csv": "\ufeff".encode() + ",".join(HEAD).encode() + b"\r\n",
    "none.json": b"[]\n",
}


@pytest.mark.parametrize("name", OURS)
def test_a_file_of_ours_is_replaced(tmp_path: Path, name: str) -> None:
    write_file(tmp_path / "new" / name, OURS[name])
    write_file(tmp_path / "new" / name, OURS[name])
    assert [path.name for path in (tmp_path / "new").iterdir()] == [name]


@pytest.mark.parametrize("name", ["zone.png", "overlay.jpg"])
def test_the_mark_changes_no_pixel(tmp_path: Path, name: str) -> None:
    write_file(tmp_path / name, OURS[name])
    with Image.open(tmp_path / name) as marked, Image.open(io.BytesIO(OURS[name])) as plain:
        assert np.array_equal(np.asarray(marked), np.asarray(plain))
    with Image.open(tmp_path / name) as marked:
        marked.verify()  # checksums


def test_an_empty_file_and_a_device_may_be_written_to(tmp_path: Path) -> None:
    (tmp_path / "reserved").touch()
    write_file(tmp_path / "reserved", b"result")
    assert (tmp_path / "reserved").read_bytes() == b"result"
    if os.name == "posix":
        write_file(Path("/dev/null"), b"result")
        assert not Path("/dev/null").is_file()


def test_no_half_file_is_left_under_the_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(path: Path, data: bytes) -> None:
        with path.open("wb") as file:
            file.write(data[:3])
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "write_bytes", stopped)
    with pytest.raises(KeyboardInterrupt):
        write_file(tmp_path / "out.json", b"long result")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_no_file_name(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="is a folder; give the name of a file"):
        refuse_foreign(tmp_path)


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"x")
    with pytest.raises(OutputError, match=r"cannot be written \(.*\); choose another place"):
        write_file(tmp_path / "file" / "out.json", b"{}")
