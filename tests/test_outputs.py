from pathlib import Path

import pytest

from defectmap.outputs import OutputError, find_photos, plan_outputs


def plan(target, photos):
    return plan_outputs(target and Path(target), [Path(p) for p in photos], ending="-zone", suffix=".png")


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
def test_one_file_each(target, photos, expected):
    assert plan(target, photos) == [name and Path(name) for name in expected]


def test_a_photograph_is_never_written_over(tmp_path):
    shot = tmp_path / "a.png"
    shot.write_bytes(b"picture")
    with pytest.raises(OutputError, match="is one of the photographs"):
        plan_outputs(shot, [shot], ending="-zone", suffix=".png")


def test_folder_stands_for_its_pictures(tmp_path):
    for name in ("b.JPG", "a.heic", "notes.txt"):
        (tmp_path / name).touch()
    assert [p.name for p in find_photos([tmp_path])] == ["a.heic", "b.JPG"]


def test_folder_without_pictures_and_missing_file_are_said(tmp_path):
    with pytest.raises(OutputError, match="No picture in the folder"):
        find_photos([tmp_path])
    with pytest.raises(OutputError, match=r"not found: .*gone\.jpg"):
        find_photos([tmp_path / "gone.jpg"])
