"""`defectmap compare` and `defectmap repeat` as a person runs them; measuring itself is tested elsewhere."""

import json
from pathlib import Path

import pytest
from PIL import Image
from typer.testing import CliRunner

from defectmap.commands import compare as commands
from defectmap.commands.program import app
from defectmap.comparison import setup_profile as profile
from defectmap.comparison.compare import Shot
from defectmap.errors import NoHotspot
from defectmap.panel.photo.photograph import Photo
from tests.comparison import phantoms

RUNNER = CliRunner()


def known(photo: Photo, **_: object) -> Shot:
    """Stand-in for measuring: the shot that the file was written from."""
    name = photo.facts.name
    if name.startswith("dark"):
        raise NoHotspot(f"No lamp reflection in {name}; retake it with the lamp inside the frame.")
    return phantoms.before() if name.startswith("before") else phantoms.after()


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(commands, "measured_shot", known)
    monkeypatch.setattr(profile, "setups_folder", lambda: tmp_path / "setups")
    for name in ("before", "after", "before2", "before3", "dark"):
        shot = phantoms.after() if name == "after" else phantoms.before()
        Image.fromarray(shot.photo.rgb).save(tmp_path / f"{name}.jpg")
    return tmp_path


def test_compare_prints_percent_and_writes_json(folder: Path) -> None:
    target = folder / "out.json"
    found = RUNNER.invoke(
        app,
        [
            "compare",
            *("--before", str(folder / "before.jpg")),
            *("--after", str(folder / "after.jpg")),
            *("--px-per-mm", "10"),
            *("--after-stage", "wiped"),
            *("--json", str(target)),
            *("--crops", str(folder / "crops")),
        ],
    )
    assert found.exit_code == 0, found.output
    assert "Comparable: yes" in found.output
    assert "after the solvent wipe" in found.output
    record = json.loads(target.read_text(encoding="utf-8"))
    assert record["comparable"] == "yes"
    fall = -record["density_mm_per_cm2"]["all"]["change_percent"]
    assert f"reduced by {fall:.0f} %" in found.output
    assert sorted(path.name for path in (folder / "crops").iterdir()) == [
        "spot1-hotspot.png",
        "spot1-worst-scratch.png",
    ]


def test_several_photographs_behind_one_option(folder: Path) -> None:
    before = [str(folder / name) for name in ("before.jpg", "before2.jpg")]
    after = [str(folder / "after.jpg")] * 2
    found = RUNNER.invoke(app, ["compare", "--before", *before, "--after", *after, "--json", "-"])
    assert found.exit_code == 0, found.output
    assert json.loads(found.stdout)["scope"] == "these spots"


def test_not_comparable_says_why(folder: Path) -> None:
    path = str(folder / "before.jpg")
    found = RUNNER.invoke(app, ["compare", "--before", path, "--after", path])
    assert found.exit_code == 0
    assert "Comparable: no" in found.output
    assert "No percentage is given." in found.output


def test_refused_photograph_ends_with_3(folder: Path) -> None:
    target = folder / "out.json"
    found = RUNNER.invoke(
        app,
        [
            "compare",
            *("--before", str(folder / "before.jpg")),
            *("--after", str(folder / "dark.jpg")),
            *("--json", str(target)),
        ],
    )
    assert found.exit_code == 3
    assert "Refused: No lamp reflection in dark.jpg" in found.stderr
    record = json.loads(target.read_text(encoding="utf-8"))
    assert record["comparable"] == "no"
    assert record["after"]["refused"].startswith("No lamp reflection")
    assert record["before"]["refused"] is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--after-stage", "polished"], "is not a valid stage"),
        (["--report", "page.docx"], "must end in .html or .pdf"),
        (["--setup", "stand"], "No set-up is called 'stand'"),
    ],
)
def test_wrong_usage_ends_with_2(folder: Path, arguments: list[str], words: str) -> None:
    paths = ["--before", str(folder / "before.jpg"), "--after", str(folder / "after.jpg")]
    found = RUNNER.invoke(app, ["compare", *paths, *arguments])
    assert found.exit_code == 2
    assert words in found.stderr


def test_a_photograph_is_never_written_over(folder: Path) -> None:
    path = str(folder / "before.jpg")
    found = RUNNER.invoke(app, ["compare", "--before", path, "--after", path, "--json", path])
    assert found.exit_code == 2
    assert "is one of the photographs" in found.stderr


def test_repeat_keeps_the_setup_and_compare_uses_it(folder: Path) -> None:
    shots = [str(folder / name) for name in ("before.jpg", "before2.jpg", "before3.jpg")]
    found = RUNNER.invoke(app, ["repeat", *shots, "--setup", "my lamp", "--px-per-mm", "10"])
    assert found.exit_code == 0, found.output
    assert "Kept as set-up 'my lamp'" in found.output
    assert profile.load_profile("my lamp").shots == 3
    compared = RUNNER.invoke(
        app,
        [
            "compare",
            *("--before", shots[0]),
            *("--after", str(folder / "after.jpg")),
            *("--setup", "my lamp"),
            *("--json", "-"),
        ],
    )
    assert json.loads(compared.stdout)["setup"] == "my lamp"


def test_repeat_without_saving(folder: Path) -> None:
    shots = [str(folder / name) for name in ("before.jpg", "before2.jpg", "before3.jpg")]
    found = RUNNER.invoke(app, ["repeat", *shots, "--no-save", "--json", "-"])
    assert json.loads(found.stdout)["shots"] == 3
    assert not (folder / "setups").exists()


def test_each_photograph_is_measured_at_its_own_scale(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: dict[str, object] = {}

    def noted(photo: Photo, *, px_per_mm: float | None = None, **_: object) -> Shot:
        seen[photo.facts.name] = px_per_mm
        return known(photo)

    monkeypatch.setattr(commands, "measured_shot", noted)
    names = ("before.jpg", "before2.jpg", "before3.jpg")
    scales = [f"--px-per-mm={value}" for value in (20, 12, 27)]
    found = RUNNER.invoke(app, ["repeat", *(str(folder / name) for name in names), *scales, "--no-save"])
    assert found.exit_code == 0, found.output
    assert seen == dict(zip(names, (20.0, 12.0, 27.0), strict=True))
    paths = ["--before", str(folder / names[0]), "--after", str(folder / "after.jpg")]
    RUNNER.invoke(app, ["compare", *paths, "--px-per-mm", "20", "12"])
    assert (seen["before.jpg"], seen["after.jpg"]) == (20.0, 12.0)


def test_two_photographs_are_too_few_to_repeat(folder: Path) -> None:
    found = RUNNER.invoke(app, ["repeat", str(folder / "before.jpg"), str(folder / "after.jpg")])
    assert found.exit_code == 2
    assert "at least 3 photographs" in found.stderr


@pytest.mark.parametrize("command", ["compare", "repeat"])
def test_help(command: str) -> None:
    found = RUNNER.invoke(app, [command, "--help"])
    assert found.exit_code == 0
    assert "--px-per-mm" in found.output
