"""`defectmap job …` from the outside."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from defectmap.commands.job import app as job_app
from defectmap.commands.job_results import comparison_row
from defectmap.commands.program import app
from defectmap.record import measuring, results
from defectmap.record.comparisons import CompareRequest
from defectmap.record.measuring import PhotoRequest
from tests.record import fakes

Run = Callable[..., Result]


def compared(_store: object, request: CompareRequest, _results: object, *, profile: object) -> Any:
    """Stands in for comparing."""
    return fakes.compare(request)


@pytest.fixture
def run(tmp_path: Path, empty_sqlite: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a job command on a record of this test; the measuring core is a stand-in."""
    folder = tmp_path / "record"
    folder.mkdir()
    shutil.copy(empty_sqlite, folder)
    monkeypatch.setattr(measuring, "measure_photograph", fakes.measure)
    monkeypatch.setenv("COLUMNS", "160")

    def command(*words: object, status: int = 0, typed: str | None = None) -> Result:
        arguments = ["job", "--record", str(folder), *(str(word) for word in words)]
        result = CliRunner().invoke(app, arguments, input=typed)
        assert result.exit_code == status, result.output
        return result

    return command


@pytest.fixture
def shots(tmp_path: Path) -> Path:
    """Photographs sorted into folders."""
    folder = tmp_path / "shots"
    for number, stage in enumerate(["decontaminated", "wiped"]):
        (folder / stage).mkdir(parents=True)
        for spot in range(3):
            file = fakes.photo(tmp_path, number * 3 + spot)
            file.rename(folder / stage / f"bonnet spot{spot}.jpg")
    return folder


def test_a_job_from_the_command_line(run: Run, shots: Path, tmp_path: Path) -> None:
    assert "15 panels" in run("create", "J1", "--vehicle", "estate", "--target-density", 3).stdout
    assert "estate" in run("list").stdout
    for kind in ("wash", "decontaminate"):
        run("step", "J1", "all", kind)
    assert "mean 111 µm" in run("readings", "J1", "bonnet", "middle", 110, 111, 112).stdout
    assert "Added 6 photographs; 0" in run("photographs", "J1", shots).stdout
    assert "Added 0 photographs; 6" in run("photographs", "J1", shots).stdout
    assert "Measured 6" in run("measure", "J1", "--workers", 1).stdout
    assert "Measured 0" in run("measure", "J1", "--workers", 1).stdout
    run("note", "J1", "stone chips [front]", "--panel", "bonnet")
    status = run("status", "J1", "--entries").stdout
    assert "stone chips [front]" in status
    assert "6 photographs, 0 not measured, 0 refused" in status
    assert "3 at 1 place" in status
    assert "uncalibrated" in status
    assert "bonnet: give the scale" in run("next", "J1", "--panel", "bonnet").stdout
    assert "may come off" in run("budget", "J1").stdout
    assert "in order" in run("verify", "J1", "--again").stdout
    run("export", "J1", tmp_path / "j.zip")
    assert "left alone" in run("export", "J1", tmp_path / "j.zip", status=2).stderr
    assert "left alone" in run("import", tmp_path / "j.zip", status=2).stderr
    run("import", tmp_path / "j.zip", "--as", "J1 copy")
    assert "J1 copy" in run("list").stdout
    assert "Checked 6 originals and 12 results: everything is in order" in run("verify").stdout


@pytest.mark.parametrize(
    ("marks", "comparable", "word"),
    [
        ({"change_percent": -60.0, "distinguishable": True}, "yes", "removed"),
        ({"change_percent": -100.0, "distinguishable": None, "at_least_percent": 96.0}, "yes", "removed"),
        ({"change_percent": -6.0, "distinguishable": False}, "yes", ""),
        ({"change_percent": 60.0, "distinguishable": True}, "yes", ""),
        ({"change_percent": None}, "no", ""),
    ],
)
def test_no_word_is_printed_for_a_reduction_that_is_not_proven(
    marks: dict[str, object], comparable: str, word: str
) -> None:
    result = {"comparable": comparable, "density_mm_per_cm2": {"all": marks}, "claim": {"word": "removed"}}
    assert comparison_row("bonnet", result)[-1] == word


def test_photographs_that_do_not_tell_their_spots_apart_are_noted(run: Run, tmp_path: Path) -> None:
    run("create", "J1")
    alike = [fakes.photo(tmp_path, seed) for seed in (1, 2, 3)]
    others = [fakes.photo(tmp_path, seed) for seed in (4, 5)]
    given = ("--panel", "bonnet", "--stage", "decontaminated")
    said = run("photographs", "J1", *alike, *given)
    assert "bonnet, decontaminated: 3 photographs without a spot all stand as spot 1" in said.stderr
    assert "without a spot" not in run("photographs", "J1", alike[0], *given).stderr
    assert "without a spot" not in run("photographs", "J1", *others, *given, "--spot", "2").stderr


def test_what_is_agreed_can_be_changed(run: Run) -> None:
    run("create", "J1", "--target-density", 3, "--target-trails", 0)
    said = run("agree", "J1", "--density", 2, "--scratch", 30).stdout
    assert "Good enough: at most 2 mm/cm² of marks, no scratch longer than 30 mm, no buffer trails." in said
    assert "Before: at most 3 mm/cm² of marks, no buffer trails." in said
    assert "nothing agreed" in run("agree", "J1", "--replace").stdout
    assert "Good enough: nothing agreed" in run("status", "J1").stdout
    assert run("status", "J1", "--entries").stdout.count("  until ") == 2
    assert "--replace" in run("agree", "J1", status=2).stderr
    assert "up to 1" in run("agree", "J1", "--haze", 7, status=2).stderr


def test_panels_are_compared_and_the_result_is_kept(
    run: Run, shots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        results, "compared", lambda _store, request, _results, profile: fakes.compare(request)
    )
    run("create", "J1")
    run("photographs", "J1", shots)
    assert "bonnet  photographs  yes" in run("compare", "J1").stdout
    (found,) = json.loads(run("compare", "J1", "--panel", "bonnet", "--json", "-").stdout)
    assert (found["before_stage"], found["after_stage"], found["verdict"]) == (
        "decontaminated",
        "wiped",
        "yes",
    )
    assert len(found["settings"]["before"]) == 3
    assert "No panel is photographed both" in run("compare", "J1", "--after", "filled", status=2).stderr


def test_one_panel_that_cannot_be_compared_does_not_stop_the_others(
    run: Run, shots: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def measure(request: PhotoRequest) -> dict[str, object]:
        return fakes.refuse(request) if request.name.endswith("0020.jpg") else fakes.measure(request)

    monkeypatch.setattr(measuring, "measure_photograph", measure)
    monkeypatch.setattr(results, "compared", compared)
    run("create", "J1")
    run("photographs", "J1", shots)
    for number, stage in enumerate(["decontaminated", "wiped"]):
        run("photographs", "J1", fakes.photo(shots, 20 + number), "--panel", "roof", "--stage", stage)
    said = run("compare", "J1", status=3)
    assert "bonnet  photographs  yes" in said.stdout
    assert "Panel roof cannot be compared: No lamp reflection" in said.stderr


def test_gates_warn_and_the_work_goes_on(run: Run) -> None:
    run("create", "J1")
    result = run("step", "J1", "bonnet", "correct", "--rung", "heavy")
    assert "Recorded correct on bonnet" in result.stdout
    assert "Gentler steps are untried on this panel (finish, medium, medium firm)" in result.stderr
    assert "No wash" in run("stage", "J1", "bonnet", "washed").stderr


def test_names_that_say_too_little_are_all_listed(run: Run, tmp_path: Path) -> None:
    run("create", "J1")
    files = [fakes.photo(tmp_path, number) for number in range(2)]
    error = run("photographs", "J1", *files, status=2).stderr
    assert "shot_0000.jpg: no panel and stage" in error
    assert "shot_0001.jpg: no panel and stage" in error
    assert "0 photographs" in run("status", "J1").stdout
    assert "Added 2" in run("photographs", "J1", *files, "--panel", "roof", "--stage", "washed").stdout


def test_a_person_is_asked_for_what_names_do_not_say(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from defectmap.commands import job_entries as commands

    monkeypatch.setattr(commands, "sys", _Terminal)
    run("create", "J1", "--panel", "bonnet", "--panel", "roof")
    files = [fakes.photo(tmp_path, number) for number in range(2)]
    # 9 is not on the list, so it asks again; an empty answer repeats the last one
    asked = run("photographs", "J1", *files, typed="9\n2\n6\n\n\n")
    assert "Panel of shot_0000.jpg?" in asked.stdout
    assert "Added 2 photographs" in asked.stdout
    panels = json.loads(run("status", "J1", "--json", "-").stdout)["panels"]
    assert [[stage["stage"] for stage in panel["stages"]] for panel in panels] == [[], ["wiped"]]


class _Terminal:
    class stdin:
        @staticmethod
        def isatty() -> bool:
            return True


def test_a_refused_photograph_gives_status_3(run: Run, shots: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run("create", "J1")
    run("photographs", "J1", shots)
    monkeypatch.setattr(measuring, "measure_photograph", fakes.refuse)
    assert "No lamp reflection" in run("measure", "J1", "--workers", 1, status=3).stderr


def test_a_tampered_original_gives_status_1(run: Run, shots: Path, tmp_path: Path) -> None:
    run("create", "J1")
    run("photographs", "J1", shots)
    original = next(p for p in (tmp_path / "record" / "originals").rglob("*") if p.is_file())
    original.chmod(0o644)
    original.write_bytes(b"x")
    said = run("verify", status=1).stdout
    assert "Wrong: original altered: bonnet spot" in said
    report = json.loads(run("verify", "--json", "-", status=1).stdout)
    assert [finding["kind"] for finding in report["findings"]] == ["original altered"]


def test_a_plan_with_the_shops_own_rates(run: Run, tmp_path: Path) -> None:
    run("create", "J1", "--panel", "bonnet", "--paint", "clear coat")
    run("readings", "J1", "bonnet", "middle", 4.4, 4.4, 4.5, "--unit", "mil")
    assert "No prices" in run("plan", "J1", "--correct", "bonnet=finish").stdout
    run("tables", "--copy")
    own = tmp_path / "record" / "tables.toml"
    own.write_text(
        own.read_text(encoding="utf-8").replace("hour = 0 ", "hour = 60").replace("hour = 0", "hour = 60")
    )
    said = run("plan", "J1", "--correct", "all=finish", "--done-on", "2026-03-02").stdout
    assert "Correct: finishing polish" in said
    assert "total" in said
    assert "2027-03-02" in said
    own.write_text("[film]\nkeep_um = 'much'\nshiny = 1\n")
    error = run("tables", status=2).stderr
    assert "film.keep_um: " in error
    assert "film.shiny: " in error


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("status", "J9"), "Job 'J9' is not in"),
        (("create", "J2", "--kind", "aeroplane"), "car, van, motorcycle, boat"),
        (("step", "J1", "bonnet", "correct"), "--rung"),
        (("step", "J1", "bonnet", "correct", "--rung", "sand"), "finish, medium"),
        (("step", "J1", "bonnet", "wipe", "--at", "noon"), "2026-05-12T14:51"),
        (("step", "J1", "bonnet", "polish"), "wash, decontaminate, correct"),
        (("readings", "J1", "bonnet", "x", "1", "--unit", "km"), "um or mil"),
        (("plan", "J1", "--correct", "bonnet"), "PANEL=STEP"),
        (("plan", "J1", "--done-on", "soon"), "2026-03-31"),
        (("next", "J1", "--panel", "wing"), "no panel 'wing'"),
        (("checklist", "J1", "--start", "x"), "intake, hand-over"),
        (("checklist", "J1", "--done", "4"), "Line 4 does not exist"),
        (("set-aside", "J1", "job", "1", "--why", "x"), "a reading, a step or damage"),
        (("import", "nowhere.zip"), "not found: nowhere.zip"),
        (("photographs", "J1", "nowhere.jpg"), "not found: nowhere.jpg"),
    ],
)
def test_what_cannot_be_done_is_one_sentence_and_status_2(
    run: Run, words: tuple[str, ...], said: str
) -> None:
    run("create", "J1")
    error = run(*words, status=2).stderr
    assert error.startswith("Error: ")
    assert said in error
    assert "Traceback" not in error


def test_the_unit_of_the_shop_is_used_for_readings(run: Run) -> None:
    run("create", "J1")
    assert "mil" in run("shop", "--unit", "mil", "--lamp", "one white LED").stdout
    assert "mean 4.4 mil" in run("readings", "J1", "bonnet", "middle", 4.4, 4.4, 4.4).stdout
    assert "mean 4.4 mil" in run("readings", "J1", "bonnet", "edge", 111, 111, 111, "--unit", "um").stdout
    assert "one white LED" in run("shop").stdout
    assert "um or mil" in run("shop", "--unit", "inch", status=2).stderr


def test_a_scratch_that_catches_a_nail_is_remembered(run: Run) -> None:
    run("create", "J1")
    run("panel", "J1", "bonnet", "--catches-nail")
    assert "fingernail" in run("next", "J1", "--panel", "bonnet").stdout
    run("panel", "J1", "bonnet", "--no-catches-nail", "--material", "steel")
    assert "fingernail" not in run("next", "J1", "--panel", "bonnet").stdout
    run("panel", "J1", "bull bar", "--area", 0.4)
    assert "bull bar" in run("status", "J1").stdout


def test_set_aside_and_checklists(run: Run, shots: Path) -> None:
    run("create", "J1")
    run("photographs", "J1", shots)
    line = next(
        line for line in run("status", "J1", "--entries").stdout.splitlines() if "photograph  " in line
    )
    run("set-aside", "J1", "photograph", line.split()[1], "--why", "blurred")
    assert "5 photographs" in run("status", "J1").stdout
    run("checklist", "J1", "--start", "hand-over")
    assert "x     hand-over" in run("checklist", "J1", "--done", 2, "--by", "A").stdout


def test_words_of_strangers_do_not_drive_the_terminal(run: Run) -> None:
    run("create", "J1", "--vehicle", "van\x1b[2J[bold]")
    said = run("list").stdout
    assert "\x1b" not in said
    assert "[bold]" in said


def test_every_command_has_help() -> None:
    for command in job_app.registered_commands:
        assert command.callback is not None
        assert command.callback.__doc__
    result = CliRunner().invoke(app, ["job", "--help"])
    assert result.exit_code == 0


def test_one_bad_file_costs_no_other_photograph(run: Run, tmp_path: Path) -> None:
    run("create", "J1", "--panel", "roof")
    folder = tmp_path / "mixed"
    folder.mkdir()
    files = [fakes.photo(folder, number) for number in range(3)]
    files[1].write_bytes(b"")
    said = run("photographs", "J1", folder, "--panel", "roof", "--stage", "washed", status=3)
    assert "Added 2 photographs; 0" in said.stdout
    assert f"Not added: {files[1].name} is empty" in said.stderr
