"""From photographs in a record to a report, end to end, and what it does not give away."""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2 as pdfium
import pytest
from PIL import Image
from typer.testing import CliRunner

from defectmap.commands.program import app
from defectmap.record.comparisons import compare_request, comparisons_of, keep_comparison
from defectmap.record.entries import StepSpec, add_step, moment
from defectmap.record.intake import Place, add_photograph
from defectmap.record.jobs import create_job
from defectmap.record.measuring import measure_job
from defectmap.record.notes import add_note, put_setting
from defectmap.record.panels import PanelSpec
from defectmap.record.results import compare
from defectmap.record.store import Store, open_store
from defectmap.record.thickness_entries import add_readings
from defectmap.report.claimpages import claims_html
from defectmap.report.claims import claim_sheet
from defectmap.report.content import Report
from defectmap.report.fromjob import report_from_job
from defectmap.report.page import report_html
from defectmap.report.pdf import report_pdf
from defectmap.report.posting import HEIGHT_PX, WIDTH_PX, NothingToPost, posting_picture
from defectmap.report.privacy import BlurBox, PrivacyChoice
from defectmap.report.table import report_table
from defectmap.report.typical import job_results
from tests import phantom
from tests.comparison.phantoms import BY_HAND, corrected, swirled

DAY = "2026-05-13"
CUSTOMER, PLATE, SERIAL, NOTE = "Invented Customer Eleven", "XX-77-PLATE", "SN-4711-0815", "phone 555-0199"
SECRETS = (CUSTOMER, PLATE, SERIAL, NOTE)
PHOTOGRAPHS = {
    ("hood", "decontaminated"): (swirled, {"seed": 1}),
    ("hood", "wiped"): (corrected, BY_HAND),
    ("door", "decontaminated"): (swirled, {"seed": 4}),
}


def jpeg(which: Callable[[], tuple[phantom.Groove, ...]], settings: dict[str, Any]) -> bytes:
    """A photograph whose EXIF holds a place, a serial number and an owner."""
    shot = phantom.Shot(**{"size_px": (760, 980), "px_per_mm": 10.0, **settings})
    taken = phantom.photograph(which(), shot, panel=phantom.Panel(seed=1))
    exif = Image.Exif()
    exif[0x013B] = CUSTOMER  # Artist
    exif[0x9C9D] = CUSTOMER.encode("utf-16-le")
    exif.get_ifd(0x8769)[0xA431] = SERIAL  # BodySerialNumber
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 36.0)})  # GPS
    file = io.BytesIO()
    Image.fromarray(taken.rgb).save(file, format="JPEG", quality=95, exif=exif)
    return file.getvalue()


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    folder = tmp_path_factory.mktemp("record")
    store = open_store(folder, clock=lambda: datetime.now(UTC).isoformat(timespec="microseconds"))
    panels = [PanelSpec(name="hood", area_m2=1.2), PanelSpec(name="door", area_m2=0.8)]
    create_job(
        store,
        "J1",
        panels=panels,
        customer=CUSTOMER,
        vehicle="invented hatchback",
        colour="blue",
        paint="clear coat",
    )
    put_setting(store, "shop", {"name": "Invented Bay"})
    add_note(store, "J1", NOTE)
    add_readings(store, "J1", "hood", "middle", (118.0, 120.0, 119.0))
    for panel, stage in PHOTOGRAPHS:
        which, settings = PHOTOGRAPHS[panel, stage]
        file = folder / f"{PLATE} {panel} {stage}.jpg"
        file.write_bytes(jpeg(which, settings))
        add_photograph(store, "J1", file, Place(panel=panel, stage=stage, px_per_mm=10.0))
    steps = (
        StepSpec(kind="correct", rung="finish", removal_low_um=0.5, removal_high_um=2.0),
        StepSpec(kind="wipe"),
    )
    for spec, at in zip(steps, ("2026-05-12T10:00+00:00", "2026-05-12T11:00+00:00"), strict=True):
        add_step(store, "J1", "hood", spec, at=moment(at))
    measure_job(store, "J1")
    compare(store, "J1", "hood")
    return store


@pytest.fixture(scope="module")
def report(store: Store) -> Report:
    return report_from_job(store, "J1", made_on=DAY)


def words_of(data: bytes) -> str:
    return " ".join(page.get_textpage().get_text_bounded() for page in pdfium.PdfDocument(data))


def every_form(report: Report) -> str:
    """All that can be read of a report, in any of its forms."""
    pdfs = [report_pdf(report, audience=audience) for audience in ("customer", "full")]
    sheet = claim_sheet(report)
    return " ".join(
        [
            *(words_of(data) for data in pdfs),
            *(str(data) for data in pdfs),
            report_html(report, audience="full"),
            report_table(report),
            claims_html(sheet),
            repr(report),
            str(posting_picture(report)),
        ]
    )


def test_reduction_lies_about_what_was_taken_away(report: Report) -> None:
    # 30 % of the grooves were kept; which of them show is chance, and the interval must say how much
    row = report.panels[0].figure("density all")
    assert row.outcome == "less"
    assert row.ci95_percent is not None
    assert row.ci95_percent[0] <= -70 <= row.ci95_percent[1]


def test_panel_photographed_once_is_in_the_report_without_a_percentage(report: Report) -> None:
    assert [panel.name for panel in report.panels] == ["hood", "door"]
    door = report.panels[1]
    assert not door.compared
    assert "one of the two stages only" in door.reasons[0]
    assert report.tally.not_comparable == 1


def test_work_film_and_reason_are_told(report: Report) -> None:
    assert [step.what for step in report.steps] == [
        "Polished: finishing polish, soft foam, random orbital",
        "Wiped with solvent, so that oils hide nothing",
    ]
    (film,) = report.films
    assert (film.panel, film.thinnest, film.spent) == (
        "hood",
        "118 µm",
        "0.5 to 2 µm",
    )  # the lowest reading rules
    assert "more of clear coat may come off" in report.panels[0].why_left
    assert "No film thickness was measured here" in report.panels[1].why_left


def test_nothing_private_is_in_any_form(report: Report) -> None:
    everything = every_form(report)
    for secret in (*SECRETS, "13.41", "52.52"):
        assert secret not in everything
    # Three letters turn up by chance in half a megabyte of picture, so pictures are asked for metadata.
    readable = re.sub(r"data:image/jpeg;base64,[\w+/=]+", "", report_html(report, audience="full"))
    assert "GPS" not in readable + report_table(report) + claims_html(claim_sheet(report))
    drawn = [picture.jpeg for pair in report.panels[0].pairs for picture in (pair.before, pair.after)]
    for jpeg in (*drawn, posting_picture(report)):
        assert not Image.open(io.BytesIO(jpeg)).getexif()
        assert b"Exif\0\0" not in jpeg  # Exif 2.32, 4.7.2: how its segment begins
    for audience in ("customer", "full"):
        assert b"Exif\0\0" not in report_pdf(report, audience=audience)


def test_close_ups_are_drawn_only_where_they_are_wanted(store: Store, report: Report) -> None:
    short = report_from_job(store, "J1", made_on=DAY, close_ups=False)
    assert [len(panel.pairs) for panel in report.panels] == [2, 0]
    assert [len(panel.pairs) for panel in short.panels] == [1, 0]
    assert short.typical == report.typical
    # the customer's version shows none of them, so it is the same file
    assert report_html(short) == report_html(report)


def test_no_form_tells_its_reader_to_run_a_command(store: Store, report: Report) -> None:
    (kept,) = comparisons_of(store, "J1")
    told_to_the_shop = [said for said in kept.result["warnings"] if "`defectmap repeat`" in said]
    assert told_to_the_shop
    assert "`defectmap" not in every_form(report)
    # what the reader should know of it is still said
    assert "How well a photograph repeats with this set-up is assumed, not measured." in words_of(
        report_pdf(report, audience="full")
    )


def test_customer_and_files_are_named_where_asked_for(store: Store) -> None:
    choice = PrivacyChoice(customer=True, file_names=True)
    asked = report_from_job(store, "J1", made_on=DAY, choice=choice, close_ups=False)
    words = words_of(report_pdf(asked, audience="full"))
    assert CUSTOMER in words
    assert PLATE in words
    assert NOTE not in words
    assert SERIAL not in words


def test_a_marked_box_is_covered_in_every_picture_of_that_photograph(store: Store, report: Report) -> None:
    sha256 = report.photographs[0].sha256
    whole = BlurBox(left=0, top=0, right=1, bottom=1)
    covered = report_from_job(store, "J1", made_on=DAY, choice=PrivacyChoice(blurred={sha256: [whole]}))
    for plain, hidden in zip(report.panels[0].pairs, covered.panels[0].pairs, strict=True):
        # a picture of a few flat patches packs to a fraction of one full of texture; the other keeps its
        # texture
        assert len(hidden.after.jpeg) > 0.7 * len(plain.after.jpeg)
        assert len(hidden.before.jpeg) < 0.7 * len(plain.before.jpeg)


def test_posting_picture(report: Report) -> None:
    picture = Image.open(io.BytesIO(posting_picture(report)))
    assert picture.size == (WIDTH_PX, HEIGHT_PX)
    assert not picture.getexif()
    with pytest.raises(NothingToPost, match="cannot be compared"):
        posting_picture(report, panel="door")
    with pytest.raises(NothingToPost, match="no panel 'roof'"):
        posting_picture(report, panel="roof")


def test_the_shops_mark_stands_on_the_posting_picture(report: Report) -> None:
    mark = io.BytesIO()
    Image.new("RGB", (600, 200), (255, 0, 0)).save(mark, "PNG")
    with_mark = Image.open(io.BytesIO(posting_picture(replace(report, mark=mark.getvalue()))))
    without = Image.open(io.BytesIO(posting_picture(report)))
    spot = (WIDTH_PX - 100, HEIGHT_PX // 2 + 50)
    red, none = (np.asarray(one)[spot[1], spot[0], 0] for one in (with_mark, without))
    assert red > 200 > 100 > none


def test_the_newest_comparison_is_the_one_in_the_report(store: Store, tmp_path: Path) -> None:
    """Two of the same panel and stages are kept, as after a correction by hand; the latest made counts."""
    shutil.copytree(store.folder, tmp_path / "record")
    copy = open_store(tmp_path / "record")
    first = comparisons_of(copy, "J1")[-1].result
    request = replace(compare_request(copy, "J1", "hood"), setup="another")
    density = first["density_mm_per_cm2"]
    changed = {**first, "density_mm_per_cm2": {**density, "all": {**density["all"], "before": 77.0}}}
    keep_comparison(copy, request, changed)
    newest = report_from_job(copy, "J1", made_on=DAY, close_ups=False)
    copy.close()
    (hood,) = (panel for panel in newest.panels if panel.name == "hood")
    assert hood.figure("density all").before == 77.0


def test_job_results_count_a_compared_job_once(store: Store) -> None:
    (only,) = job_results(store)
    assert (only.panels, only.compared) == (1, 1)


def test_command_writes_every_form(store: Store, tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("r.html", "r.pdf", "r.csv")]
    more = ["--claims", tmp_path / "claims.pdf", "--posting", tmp_path / "post.jpg", "--full"]
    box = f"{PLATE} hood wiped.jpg=0.1,0.1,0.2,0.2"
    command = ["report", "J1", *files, *more, "--record", store.folder, "--blur", box]
    result = CliRunner().invoke(app, [str(part) for part in command])
    assert result.exit_code == 0, result.output
    assert {path.name for path in tmp_path.iterdir()} == {
        "r.html",
        "r.pdf",
        "r.csv",
        "claims.pdf",
        "post.jpg",
    }
    assert PLATE not in files[0].read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["J1", "r.docx"], "must end in .html, .pdf or .csv"),
        (["J2", "r.html"], "J2"),
        (["J1", "r.html", "--blur", "nobody.jpg=0,0,1,1"], "there is no photograph of that name"),
        (["J1", "r.html", "--blur", "x.jpg=0,0,1"], "PHOTO=LEFT,TOP,RIGHT,BOTTOM|there is no photograph"),
        (["J1", "r.html", "--after", "protected"], "is compared between|not compared yet"),
        (["J1", "r.html", "--posting", "p.png"], "must end in .jpg or .jpeg"),
    ],
)
def test_wrong_use_is_told_in_a_sentence(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], words: str
) -> None:
    import re

    monkeypatch.chdir(tmp_path)
    result = CliRunner().invoke(app, ["report", *arguments, "--record", str(store.folder)])
    assert result.exit_code == 2
    assert re.search(words, result.stderr), result.stderr


def test_unwritable_place_leaves_no_half_file(report: Report, tmp_path: Path) -> None:
    from defectmap.outputs import OutputError
    from defectmap.report.writing import write_report

    (tmp_path / "there.html").mkdir()
    with pytest.raises(OutputError, match="is a folder; give the name of a file"):
        write_report(report, tmp_path / "there.html")
    assert [path.name for path in Path(tmp_path).iterdir()] == ["there.html"]
