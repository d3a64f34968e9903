"""One invented car from intake over two visits two years apart, through the command line alone."""

from __future__ import annotations

import io
import itertools
import shutil
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace

import pypdfium2
import pytest
from icalendar import Calendar
from typer.main import get_command

from defectmap.commands import care, job, report, vehicle
from defectmap.errors import DefectmapError
from defectmap.record import measuring, store
from defectmap.record.measuring import PhotoRequest
from tests.record import fakes

CAR = "the blue one of May"
GROUPS = {"job": get_command(job.app), "vehicle": get_command(vehicle.app), "care": get_command(care.app)}


@dataclass
class Shop:
    """A shop with a clock that can be put forward and a lamp that shows what it is told to show."""

    folder: Path
    shots: Path
    at: str = "2024-05-06T08:00:00.000000+00:00"
    density: float = 15.0
    numbers: itertools.count[int] = field(default_factory=itertools.count)
    ticks: itertools.count[int] = field(default_factory=itertools.count)

    def clock(self) -> str:
        tick = next(self.ticks)
        return f"{self.at[:11]}{8 + tick // 3600:02d}:{tick // 60 % 60:02d}:{tick % 60:02d}{self.at[19:]}"

    def run(self, group: str, *words: object, status: int = 0) -> str:
        """What a command prints; the groups are built once, which is most of the time of a call."""
        arguments = ["--record", str(self.folder), *(str(word) for word in words)]
        with io.StringIO() as out, redirect_stdout(out), redirect_stderr(out):
            try:
                found = GROUPS[group].main(arguments, standalone_mode=False) or 0
            except DefectmapError as error:  # as `defectmap` itself ends them
                found = error.exit_code
                print(error)
            said = out.getvalue()
        assert found == status, said
        return said

    def job(self, *words: object, status: int = 0) -> str:
        return self.run("job", *words, status=status)

    def measure(self, request: PhotoRequest) -> object:
        figures = {"swirl": self.density, "scratch": 0.0, "all": self.density}
        return {**fakes.measure(request), "density_mm_per_cm2": figures}

    def shoot(self, job: str, panel: str, stage: str, density: float, *, spots: int = 3) -> None:
        self.density = density
        folder = self.shots / f"{job} {panel} {next(self.numbers)}"
        folder.mkdir()
        for spot in range(spots):
            fakes.photo(folder, next(self.numbers)).rename(folder / f"spot{spot}.jpg")
        self.job("photographs", job, folder, "--panel", panel, "--stage", stage, "--px-per-mm", 20)
        self.job("measure", job, "--workers", 1)

    def words_of(self, job: str, kind: str, *options: object) -> str:
        file = self.folder.parent / f"{job} {kind}.pdf"
        self.job("paper", job, kind, file, *options)
        with pypdfium2.PdfDocument(file) as document:
            return " ".join(page.get_textpage().get_text_range() for page in document).replace("\r\n", " ")


@pytest.fixture
def shop(tmp_path: Path, empty_sqlite: Path, monkeypatch: pytest.MonkeyPatch) -> Shop:
    folder = tmp_path / "record"
    folder.mkdir()
    shutil.copy(empty_sqlite, folder)
    made = Shop(folder=folder, shots=tmp_path)
    monkeypatch.setattr(measuring, "measure_photograph", made.measure)
    opened = store.open_store
    monkeypatch.setattr(
        store, "open_store", lambda place, *, url=None: opened(place, url=url, clock=made.clock)
    )
    monkeypatch.setenv("COLUMNS", "200")
    return made


@pytest.fixture
def correct(shop: Shop) -> Callable[[str, str], None]:
    def panel(job: str, name: str) -> None:
        shop.job("start", job, name, "correct", "--by", "Kim")
        shop.job("step", job, name, "correct", "--rung", "medium", "--minutes", 40)
        shop.job("step", job, name, "wipe")

    return panel


def intake(shop: Shop, job: str) -> None:
    """The car comes in: panels, what is agreed, damage, thickness with a low reading, signatures."""
    run = shop.job
    run("create", job, "--of", CAR, "--panel", "bonnet", "--panel", "roof", "--panel", "front bumper")
    run("agree", job, "--density", 3)
    where = ("--across", 0.5, "--down", 0.12, "--photo", fakes.photo(shop.shots, 999))
    run("damage", job, "bonnet", "chip", "--words", "front edge", *where)
    assert "touching up" in run("damages", job).lower()
    assert "nothing explains it" in run("readings", job, "bonnet", "middle", 118, 121, 119, 62)
    assert "is it 4.7 mil" in run("readings", job, "bonnet", "left", 118, 4.7, 119, status=2)
    run("readings", job, "bonnet", "middle", 119, 120, "--again")
    run("sign", job, "intake", "--by", "A. Person")
    run("sign", job, "pictures", "--by", "A. Person", "--refused")


@pytest.fixture
def taken_in(shop: Shop) -> Shop:
    """The vehicle with its first job."""
    about = ("--make", "invented hatchback", "--colour", "blue", "--paint", "clear coat")
    shop.run("vehicle", "add", CAR, *about)
    shop.run("vehicle", "keeper", CAR, "--name", "A. Person", "--contact", "a@example.org")
    shop.job("shop", "--name", "An invented shop", "--gauge-um", 2, "--gauge-percent", 2)
    intake(shop, "V1")
    return shop


def test_a_car_comes_in_and_is_quoted(taken_in: Shop) -> None:
    shop = taken_in
    said = shop.words_of("V1", "intake").lower()
    for words in (
        "intake v1",
        "chip, front edge",
        "a. person",
        "does not want pictures",
        "at most 3",
        "118 µm",
    ):
        assert words in said
    assert "hour" not in shop.words_of("V1", "quote")
    assert "not entered" in shop.job("shop")
    shop.job("shop", "--hour", 60, "--tax", 19)
    quoted = shop.words_of("V1", "quote", "--number", "Q 7")
    assert "Q 7" in quoted
    assert "Correction is not in this amount yet for bonnet, roof and front bumper" in quoted
    assert "bonnet: no correction is planned yet; first: inspect." in shop.job("plan", "V1")
    # a mistake is set aside by the number that the list shows
    shop.job("damage", "V1", "roof", "stain")
    assert "roof" in shop.job("damages", "V1")
    shop.job("set-aside", "V1", "damage", 2, "--why", "it was dirt")
    assert "roof" not in shop.job("damages", "V1")
    assert "no damage 2" in shop.job("set-aside", "V1", "damage", 2, "--why", "again", status=2)


def test_an_edge_explains_one_reading_or_all_of_its_place(taken_in: Shop) -> None:
    job = taken_in.job
    job("readings", "V1", "roof", "middle", 120, 121, 122)
    job("readings", "V1", "roof", "edge", 60, 61, 59)
    assert "2 other readings there stand as they are" in job("explain", "V1", "roof", "edge", "--why", "edge")
    assert "nothing explains it" in job("budget", "V1")
    said = job("explain", "V1", "roof", "edge", "--why", "edge", "--all")
    assert "60 µm, 61 µm are explained (edge). Keep the machine off it." in said
    roof = next(line for line in job("budget", "V1").splitlines() if line.startswith("roof"))
    assert "12.0 µm" in roof  # as without the edge
    assert "its places: middle, edge" in job("explain", "V1", "roof", "edge", "--why", "edge", status=2)


def test_care_follows_from_the_product_that_was_put_on(taken_in: Shop, tmp_path: Path) -> None:
    run, job = taken_in.run, taken_in.job
    assert "name it with --protection" in run("care", "plan", "V1", status=2)
    label = ("--level", 2, 6, "--dry", 48, "--unwashed", 10)
    assert "no washing for 10 days" in run("care", "product", "Coat 1", "--kind", "coating", *label)
    assert "keep dry for 48 hours" in job("step", "V1", "all", "protect", "--product", "coat 1")
    assert "2024-05-17: first wash allowed (Coat 1)" in run("care", "plan", "V1", "--done-on", "2024-05-07")
    listed = run("care", "list")
    identity = next(line.split()[-1] for line in listed.splitlines() if "first wash" in line)
    assert run("care", "done", identity) == "Done: first wash allowed, 2024-05-17.\n"
    run("care", "calendar", tmp_path / "care.ics")
    events = Calendar.from_ical((tmp_path / "care.ics").read_bytes()).walk("VEVENT")
    assert [str(event["summary"]).partition(": ")[0] for event in events] == [CAR] * 4  # one is done
    assert b"Person" not in (tmp_path / "care.ics").read_bytes()


def test_no_picture_is_made_for_posting_where_the_customer_refused(
    taken_in: Shop, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    made = SimpleNamespace(panels=[SimpleNamespace(compared=True, spots=())], headline="Fewer marks.")
    written: list[Path] = []
    monkeypatch.setattr(report, "report_from_job", lambda *_, **__: made)
    monkeypatch.setattr(report, "write_posting", lambda _, file, **__: written.append(file))
    post = tmp_path / "post.jpg"
    with pytest.raises(DefectmapError, match="does not want pictures to be shown"):
        report.report("V1", [], posting=post, record=str(taken_in.folder))
    assert written == []
    taken_in.job("sign", "V1", "pictures", "--by", "A. Person")
    report.report("V1", [], posting=post, record=str(taken_in.folder))
    assert written == [post]


@pytest.mark.slow
def test_a_car_over_two_visits(taken_in: Shop, correct: Callable[[str, str], None], tmp_path: Path) -> None:
    shop, run, job = taken_in, taken_in.run, taken_in.job
    job("readings", "V1", "roof", "middle", 120, 121, 122)

    # Work: one test spot on the bonnet settles the step for the roof
    job("step", "V1", "all", "wash", "--minutes", 30)  # for the whole car, not for each panel
    job("step", "V1", "all", "decontaminate")
    for panel in ("bonnet", "roof"):
        shop.shoot("V1", panel, "decontaminated", 15)
    assert "bonnet: try on a spot: finishing polish" in job("next", "V1", "--panel", "bonnet")
    for rung, density in (("finish", 9.0), ("medium", 2.0)):
        job("step", "V1", "bonnet", "correct", "--rung", rung, "--spot", "1")
        job("step", "V1", "bonnet", "wipe", "--spot", "1")
        shop.shoot("V1", "bonnet", "test spot", density, spots=2)
    assert "bonnet: correct the panel: medium polish" in job("next", "V1", "--panel", "bonnet")
    roof = job("next", "V1", "--panel", "roof")
    assert "roof: correct the panel: medium polish" in roof
    assert "settled on bonnet" in roof
    assert "(common practice, no source)" in roof  # where the figures of a proposed step are from
    assert "eye protection" in roof
    assert "No prices are entered" in shop.words_of("V1", "quote")
    for panel in ("bonnet", "roof"):
        correct("V1", panel)
        shop.shoot("V1", panel, "wiped", 1.5)
        assert f"{panel}: stop: good enough" in job("next", "V1", "--panel", panel)
    job("readings", "V1", "bonnet", "middle", 115, 116, 117)
    assert "give or take" in job("budget", "V1")
    job("step", "V1", "all", "protect", "--product", "sealant")
    run("care", "plan", "V1", "--done-on", "2024-05-07")
    over = shop.words_of("V1", "hand-over", "--done-on", "2024-05-07")
    for words in ("Hand-over V1", "Film thickness", "chip", "2024-05-10", "keep it dry", "medium polish"):
        assert words in over
    invoice = shop.words_of("V1", "invoice", "--number", "R 1")
    assert "Work done" in invoice
    assert "Wash 0.50 h" in invoice
    assert "Protect" not in invoice  # no time was entered for it, so it is not charged by itself
    job("change", "V1", "--close")
    assert "closed" in job("list")

    # A follow-up in autumn is a stage of its own, held against the hand-over
    shop.at = "2024-11-08T08:00:00.000000+00:00"
    shop.shoot("V1", "bonnet", "follow-up", 2.0)
    assert "follow up" in job("status", "V1")

    # Second visit, two years on: the panels are known again, what was spent counts
    shop.at = "2026-05-11T08:00:00.000000+00:00"
    job("create", "V2", "--of", CAR, "--panel", "bonnet", "--panel", "roof", "--panel", "front bumper")
    job("readings", "V2", "bonnet", "middle", 114, 115, 116)
    job("readings", "V2", "roof", "middle", 117, 118, 119)
    shop.shoot("V2", "bonnet", "decontaminated", 12)
    budget = job("budget", "V2")
    assert "Earlier jobs took" in budget
    assert "Done before on such paint: medium polish" in _after(shop, "V2", "bonnet")
    life = run("vehicle", "show", CAR)
    assert "2 visits" in life
    assert "62 µm did not repeat" in life
    assert life.index("V1   decontaminated") < life.index("V1   wiped") < life.index("V2   decontaminated")

    # Whose it is can be forgotten; what was measured stays
    job("export", "V1", tmp_path / "v1.zip")
    run("vehicle", "forget", CAR, status=2)
    run("vehicle", "forget", CAR, "--yes")
    assert "Nothing is kept" in run("vehicle", "keeper", CAR)
    assert "A. Person" not in shop.words_of("V1", "intake")
    assert "everything is in order" in job("verify")


def _after(shop: Shop, job: str, panel: str) -> str:
    """The advice once the gentlest step was not enough on a spot."""
    shop.job("step", job, panel, "correct", "--rung", "finish", "--spot", "1")
    shop.job("step", job, panel, "wipe", "--spot", "1")
    shop.shoot(job, panel, "test spot", 8.0, spots=2)
    return shop.job("next", job, "--panel", panel)
