"""Every page is opened and used as a person would; Streamlit's own test runner draws it."""

from __future__ import annotations

import base64
import io
import json
import re
from pathlib import Path
from typing import Any, cast

import pi_heif
import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from defectmap import measure
from defectmap.pages import background_run, server
from defectmap.pages.frame import PAGES
from defectmap.pages.images import preview_jpeg
from defectmap.pages.passphrase import SETTING, fits
from defectmap.pages.reports import made_report, state_of_record
from defectmap.pages.widgets import keypad, livecamera, picture, plan_touch
from defectmap.pages.widgets.livecamera import shot_from
from defectmap.pages.widgets.scale_choice import PIXELS, WIDTH
from defectmap.panel.score_parts import score_parts
from defectmap.record.comparisons import comparisons_of
from defectmap.record.corrections import Exclusion, Relabel, corrected
from defectmap.record.entries import set_aside
from defectmap.record.intake import Place, add_photograph, photographs_of
from defectmap.record.jobs import all_jobs, change_job, create_job, job_named
from defectmap.record.keeping import results_of
from defectmap.record.measuring import measure_job
from defectmap.record.notes import checklists_of, setting
from defectmap.record.overview import overview
from defectmap.record.panels import panels_of
from defectmap.record.results import compare_ready, ready_panels
from defectmap.record.store import Store, open_store
from defectmap.record.verifying import verify
from defectmap.record.whole import measurement_of
from defectmap.report.content import Audience
from defectmap.report.posting import HEIGHT_PX, WIDTH_PX
from defectmap.trade.facts import Target
from defectmap.words.figure_words import AIMS
from defectmap.words.guide import CAUTIONS, IN_SHORT
from defectmap.words.page_words import plain
from tests.pages.conftest import JOB, MAIN, PX_PER_MM, Shots, downloads, listen_to, measured, open_page, words
from tests.record.kept import latest_measurements

DATA = Path(__file__).parent.parent / "data"
GPS_IFD = 0x8825  # Exif 2.32, 4.6.3


@pytest.mark.parametrize("name", PAGES)
def test_each_page_opens_without_a_job(name: str, empty_record: Path) -> None:
    app = open_page(name)
    assert app.title[0].value == (PAGES[name][0] if name != "customer" else "Your car, before and after")
    if name not in ("today", "set_up"):
        assert "There is no job yet" in words(app)


@pytest.mark.parametrize("name", PAGES)
def test_each_page_opens_on_a_measured_job(name: str, record: Path) -> None:
    app = open_page(name)
    assert not app.error


def test_a_car_is_taken_in_and_its_checklist_ticked(
    empty_record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_touch, "chosen_panels", lambda *_, **__: ("bonnet", "roof"))
    app = open_page("today")
    app.text_input(key="today_reference").set_value("W-7")
    next(b for b in app.button if b.label == "Start the job").click().run()
    store = open_store(empty_record)
    assert [job.reference for job in all_jobs(store)] == ["W-7"]
    assert [panel.name for panel in panels_of(store, "W-7")] == ["bonnet", "roof"]
    app = open_page("today")
    next(b for b in app.button if b.label == "Start the list: intake").click().run()
    app.checkbox[0].check().run()
    assert checklists_of(store, "W-7")[0].done_at is not None


def test_what_is_agreed_is_entered_with_the_car_and_changed_later(
    empty_record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_touch, "chosen_panels", lambda *_, **__: ("bonnet",))
    app = open_page("today")
    field = next(n for n in app.number_input if n.label == "Marks at most, mm/cm²")
    assert (field.value, field.placeholder) == (None, "usual aim: 3")  # of the shipped tables
    app.text_input(key="today_reference").set_value("W-7")
    field.set_value(2.0)
    next(b for b in app.button if b.label == "Start the job").click().run()
    store = open_store(empty_record)
    assert job_named(store, "W-7").target == Target(density_mm_per_cm2=2.0)

    app = open_page("next_step")
    said = "Agreed: at most 2 mm/cm² of marks. Usual aim: at most 0.5 mm/cm² of buffer trails."
    assert plain(said) in words(app)
    next(n for n in app.number_input if n.label == "Marks at most, mm/cm²").set_value(1.0)
    next(n for n in app.number_input if n.label == "Longest scratch at most, mm").set_value(20.0)
    next(b for b in app.button if b.label == "Keep what is agreed").click().run()
    changed = job_named(store, "W-7")
    assert changed.target == Target(density_mm_per_cm2=1.0, longest_scratch_mm=20.0)
    assert [one.target for one in changed.earlier_targets] == [Target(density_mm_per_cm2=2.0)]
    assert plain("at most 1 mm/cm² of marks, no scratch longer than 20 mm") in words(app)

    next(b for b in app.button if b.label == "Undo").click().run()
    undone = job_named(store, "W-7")
    assert undone.target == Target(density_mm_per_cm2=2.0)
    assert len(undone.earlier_targets) == 2  # undoing is a change too, and stays in the record
    fields = {n.label: n.value for n in app.number_input}
    assert (fields["Marks at most, mm/cm²"], fields["Longest scratch at most, mm"]) == (2.0, None)


@pytest.mark.parametrize(
    ("page", "button"), [("today", "Start the job"), ("next_step", "Keep what is agreed")]
)
def test_a_target_that_cannot_be_meant_is_refused_in_one_sentence(
    record: Path, store: Store, page: str, button: str
) -> None:
    app = open_page(page)
    if page == "today":
        app.text_input(key="today_reference").set_value("W-8")
    next(n for n in app.number_input if n.label == "Haze at most, 0 to 1").set_value(30.0)
    next(b for b in app.button if b.label == button).click().run()
    assert [e.value for e in app.error] == [
        plain("At most 30 cannot be meant for haze: give a figure above 0 and up to 1, or leave it empty.")
    ]
    assert [(job.reference, job.target) for job in all_jobs(store)] == [(JOB, Target())]


def test_the_advice_says_what_was_agreed(record: Path, store: Store) -> None:
    for step in overview(store, JOB).panels[0].history.steps:
        set_aside(store, JOB, "step", step.id, why="the photographs decide alone")
    assert AIMS["usual aim"] in words(open_page("next_step")).replace("\\", "")
    change_job(store, JOB, seen_version=1, target=Target(density_mm_per_cm2=2.0))
    said = words(open_page("next_step")).replace("\\", "")
    assert AIMS["agreed"] in said
    assert AIMS["usual aim"] not in said


def test_a_taken_reference_is_refused_in_words(record: Path) -> None:
    app = open_page("today")
    app.text_input(key="today_reference").set_value(JOB)
    next(b for b in app.button if b.label == "Start the job").click().run()
    assert "choose another reference" in app.error[0].value


def test_names_are_shown_as_typed_and_never_read_as_markdown(empty_record: Path) -> None:
    from defectmap.record.jobs import create_job
    from defectmap.record.panels import PanelSpec

    evil = "![x](http://example.com/x.png) <b>:red[y]</b>"
    create_job(
        open_store(empty_record), evil, panels=[PanelSpec(name=evil, area_m2=1.0)], vehicle=evil, colour=evil
    )
    for name in PAGES:
        app = open_page(name)
        for kind in ("markdown", "caption", "subheader", "error", "info"):
            for element in cast("list[Any]", app.get(kind)):
                assert "![x](" not in str(element.value)
                assert "<b>" not in str(element.value)
        # cells of tables are read as Markdown too
        assert all("![x](" not in str(table.value.to_dict()) for table in app.table)


def test_photographs_are_kept_measured_and_judged_at_once(record: Path, store: Store, shots: Shots) -> None:
    app = open_page("photographs")
    app.selectbox(key="pick_panel").set_value("roof").run()
    app.selectbox(key="photographs_stage").set_value("decontaminated").run()
    picture = ("roof.jpg", shots.before.read_bytes()[:-2] + b"\x00\x00\xff\xd9", "image/jpeg")
    junk = ("notes.jpg", b"no picture at all", "image/jpeg")
    app.file_uploader[0].set_value([picture, junk]).run()
    assert not app.exception
    app.button(key=next(b.key or "" for b in app.button if b.label == "Keep 2 photographs")).click().run()
    said = words(app)
    assert "notes" in app.error[0].value
    assert "Kept 1 photograph" in said
    said = words(measured(app, record))
    assert "Good to use" in said or "could be better" in said
    roof = next(p for p in overview(store, JOB).panels if p.history.panel.name == "roof")
    assert roof.stages[0].unmeasured == 0
    kept = next(p for p in photographs_of(store, JOB) if p.panel == "roof")
    assert store.originals.kept(kept.sha256).path.read_bytes() == picture[1]
    assert len(photographs_of(store, JOB)) == 3


def _twice(shots: Shots) -> list[tuple[str, bytes, str]]:
    with Image.open(shots.before) as picture:
        files = []
        for number, quality in enumerate((90, 80), start=1):
            stream = io.BytesIO()
            picture.save(stream, "JPEG", quality=quality)
            files.append((f"{number}.jpg", stream.getvalue(), "image/jpeg"))
    return files


def test_several_files_are_shown_at_their_spots_before_they_are_kept(
    record: Path, store: Store, shots: Shots
) -> None:
    app = open_page("photographs")
    app.selectbox(key="photographs_stage").set_value("washed").run()
    app.file_uploader[0].set_value(_twice(shots)).run()
    assert len(photographs_of(store, JOB)) == 2  # nothing is kept yet
    spots = [one for one in app.selectbox if one.label.startswith("Spot of")]
    assert [one.value for one in spots] == ["1", "2"]  # no names, no times, nothing before: in their order
    spots[0].set_value("3").run()
    next(b for b in app.button if b.label == "Keep 2 photographs").click().run()
    assert not app.exception
    kept = [p for p in photographs_of(store, JOB) if p.stage == "washed"]
    assert [(p.name, p.spot) for p in kept] == [("2.jpg", "2"), ("1.jpg", "3")]
    measured(app, record)


def test_several_files_of_one_spot_are_pointed_out(record: Path, shots: Shots) -> None:
    app = open_page("photographs")
    app.selectbox(key="photographs_stage").set_value("washed").run()
    app.file_uploader[0].set_value(_twice(shots)).run()
    next(one for one in app.selectbox if one.label == plain("Spot of 2.jpg")).set_value("1").run()
    next(b for b in app.button if b.label == "Keep 2 photographs").click().run()
    said = "2 photographs at spot 1 of bonnet, washed: only the latest counts"
    assert said in words(app).replace("\\", "")
    measured(app, record)


def test_a_heic_file_is_kept_measured_and_shown(record: Path, store: Store) -> None:
    """As an iPhone gives it: HEVC in a HEIF container, name in capitals, no type said by the browser."""
    data = (DATA / "lamp.heic").read_bytes()
    app = open_page("photographs")
    app.selectbox(key="pick_panel").set_value("roof").run()
    app.selectbox(key="photographs_stage").set_value("decontaminated").run()
    app.file_uploader[0].set_value([("IMG_0007.HEIC", data, "application/octet-stream")]).run()
    assert not app.exception
    assert "Kept 1 photograph" in words(app)
    measured(app, record)
    kept = next(p for p in photographs_of(store, JOB) if p.panel == "roof")
    path = store.originals.kept(kept.sha256).path
    assert path.read_bytes() == data
    result = results_of(store, JOB, panel="roof")[kept.id]
    # the same pixels without HEIF round them, unpacked by the library itself: the same figures
    unpacked = io.BytesIO()
    heif = pi_heif.open_heif(data)
    heif.to_pillow().save(unpacked, "PNG", exif=heif.info["exif"] or b"")
    plainly = measure(unpacked.getvalue(), px_per_mm=PX_PER_MM).density.all
    assert plainly > 5
    assert result.record["density_mm_per_cm2"]["all"] == pytest.approx(plainly, rel=0.01)
    small = preview_jpeg(path)
    assert small is not None
    with Image.open(io.BytesIO(small)) as shown:
        assert shown.format == "JPEG"
        assert not shown.getexif()  # the file names a place; what the page shows does not
    pi_heif.register_heif_opener()
    with Image.open(path) as original:
        assert original.getexif().get_ifd(GPS_IFD)
    app = open_page("panel_result")
    assert not app.error


def test_the_phones_camera_hands_its_picture_to_the_record(
    record: Path, store: Store, shots: Shots, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = shots.before.read_bytes()[:-2] + b"\x00\x00\xff\xd9"
    aim = json.dumps(["roof", "decontaminated", "2"])
    given = {"name": "image.jpg", "content": base64.b64encode(picture).decode(), "number": "7", "aim": aim}
    # handed over twice, as a browser may: kept once, at the place it was aimed at
    taken = [shot_from(given), shot_from(given)]
    monkeypatch.setattr(livecamera, "live_camera", lambda *_, **__: taken.pop() if taken else None)
    app = open_page("camera")
    assert not app.error
    measured(app, record)
    (kept,) = [p for p in photographs_of(store, JOB) if p.panel == "roof"]
    assert (kept.stage, kept.spot) == ("decontaminated", "2")
    assert picture in [store.originals.kept(p.sha256).path.read_bytes() for p in photographs_of(store, JOB)]


@pytest.mark.parametrize("given", [None, {}, {"name": 1, "content": "aGk="}, {"name": "a", "content": "?"}])
def test_what_is_no_picture_from_the_camera_is_left_alone(given: object) -> None:
    assert shot_from(given) is None


def test_the_guide_can_be_read_and_printed(record: Path) -> None:
    app = open_page("photographs")
    said = words(app)
    assert all(sentence in said for sentence in IN_SHORT)
    assert all(item.words in said for item in CAUTIONS.items)
    assert [button.label for button in downloads(app)] == ["Guide to print", "Scale card to print"]


def test_the_same_file_at_another_place_is_refused_in_words(record: Path, shots: Shots) -> None:
    app = open_page("photographs")
    app.selectbox(key="pick_panel").set_value("roof").run()
    app.file_uploader[0].set_value([("again.jpg", shots.before.read_bytes(), "image/jpeg")]).run()
    assert "same photograph" in app.error[0].value


def test_a_forgotten_scale_is_given_later_and_measured_at_once(record: Path, store: Store) -> None:
    app = open_page("photographs")
    photo = next(p for p in photographs_of(store, JOB) if p.stage == "wiped")
    for key, figure in (("ppm", 16.0), ("ppm", PX_PER_MM), ("width", 98.0)):
        way = PIXELS if key == "ppm" else WIDTH
        app.radio(key=f"scale_{photo.id}_scale").set_value(way).run()
        app.number_input(key=f"scale_{photo.id}_{key}").set_value(figure).run()
        app.button(key=f"rescale_{photo.id}").click().run()
        assert not app.exception
        measured(app, record)
        scale = results_of(store, JOB)[photo.id].record["scale"]
        assert scale["px_per_mm"] == pytest.approx(figure if key == "ppm" else 10.0)
    assert len({m.id for m in latest_measurements(store, JOB).values()}) == 2
    assert verify(store, JOB, again=True).findings == ()


def test_a_photograph_is_moved_and_set_aside(record: Path, store: Store) -> None:
    app = open_page("photographs")
    photo = next(p for p in photographs_of(store, JOB) if p.stage == "wiped")
    app.selectbox(key=f"to_panel_{photo.id}").set_value("roof")
    app.button(key=f"move_{photo.id}").click().run()
    assert next(p for p in photographs_of(store, JOB) if p.id == photo.id).panel == "roof"
    app.selectbox(key="pick_panel").set_value("roof").run()
    app.text_input(key=f"why_{photo.id}").set_value("blurred")
    app.button(key=f"aside_{photo.id}").click().run()
    assert photo.id not in {p.id for p in photographs_of(store, JOB)}


def touch(monkeypatch: pytest.MonkeyPatch, photograph: str, *acts: dict[str, Any]) -> None:
    """Let the picture hand over what a finger did; twice each, as a browser may."""
    left = [{"photograph": photograph, "number": str(at), **act} for at, act in enumerate(acts)]
    left = [one for act in left for one in (act, act)]
    monkeypatch.setattr(picture, "taken_up", lambda _, what: left.pop(0) if left and what == "act" else None)


def test_a_wrong_kind_is_put_right_and_undone_beside_the_first_result(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = next(p for p in photographs_of(store, JOB) if p.stage == "wiped")
    first = latest_measurements(store, JOB)[photo.id]
    touch(monkeypatch, photo.id, {"what": "kind", "mark": 0, "kind": "none"})
    app = open_page("panel_result")
    assert not app.exception
    corrected = latest_measurements(store, JOB)[photo.id]
    assert corrected.id != first.id
    assert corrected.figures.every_mark is not None
    assert first.figures.every_mark is not None
    assert corrected.figures.every_mark < first.figures.every_mark
    assert len(results_of(store, JOB)[photo.id].corrections) == 1
    assert "Corrected by hand" in words(app)
    app.button(key="result_undo_0").click().run()
    undone = latest_measurements(store, JOB)[photo.id]
    assert undone.figures == first.figures
    assert undone.id not in (first.id, corrected.id)
    # measured again from the original, with and without the corrections, every result comes out the same
    again = verify(store, JOB, again=True)
    assert again.findings == ()
    assert again.results >= 4


def test_an_area_is_left_out_and_undone_beside_the_picture(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = next(p for p in photographs_of(store, JOB) if p.stage == "wiped")
    first = latest_measurements(store, JOB)[photo.id]
    touch(monkeypatch, photo.id, {"what": "area", "box": [0, 0, 490, 760]})
    app = open_page("panel_result")
    assert not app.exception
    (left_out,) = results_of(store, JOB)[photo.id].corrections
    assert isinstance(left_out, Exclusion)
    assert (left_out.left, left_out.right) == (0, 490)
    touch(monkeypatch, photo.id, {"what": "area", "box": [0, 0, 1, 1]})  # its number was handed over before
    app.run()
    assert len(results_of(store, JOB)[photo.id].corrections) == 1
    touch(monkeypatch, photo.id, {"what": "undo", "number": "later"})
    app.run()
    assert latest_measurements(store, JOB)[photo.id].figures == first.figures


def test_an_undo_is_not_swallowed_by_what_else_the_page_does(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch, shots: Shots
) -> None:
    """A page that ended its run early (a photograph had just come in) once dropped the press."""
    photo = next(p for p in photographs_of(store, JOB) if p.stage == "wiped")
    touch(monkeypatch, photo.id, {"what": "kind", "mark": 0, "kind": "none"})
    app = open_page("panel_result")
    path = record.parent / "new.jpg"
    path.write_bytes(shots.before.read_bytes()[:-2] + b"\x00\x00\xff\xd9")
    add_photograph(store, JOB, path, Place(panel="roof", stage="washed", px_per_mm=PX_PER_MM))
    app.button(key="result_undo_0").click().run()
    assert results_of(store, JOB)[photo.id].corrections == ()


def test_a_correction_that_meets_no_mark_leaves_every_figure_as_measured(record: Path, store: Store) -> None:
    for one in results_of(store, JOB).values():
        measured = measurement_of(store, one)
        same = corrected(measured, [Relabel(x=-9.0, y=-9.0, length_mm=1.0, kind="none")])
        assert (same.density, same.longest_scratch_mm) == (measured.density, measured.longest_scratch_mm)
        assert same.score == pytest.approx(measured.score)
        assert same.score is not None
        assert sum(part.points for part in score_parts(one.record)) + same.score == pytest.approx(100)


def test_marks_are_shown_by_kind(record: Path) -> None:
    app = open_page("panel_result")
    toggle = next(t for t in app.toggle if t.label.startswith("Swirl"))
    toggle.set_value(False).run()
    assert not app.exception


def test_before_and_after_says_a_change_with_its_interval(record: Path) -> None:
    app = open_page("before_after")
    said = words(app)
    assert "reduced by" in app.subheader[0].value
    assert "interval" in app.subheader[0].value
    assert "can be compared" in said
    for way in ("Slider", "Blink"):
        app.radio(key="pair_way").set_value(way).run()
        assert not app.exception


def test_the_next_step_asks_for_readings_and_takes_them(record: Path, store: Store) -> None:
    app = open_page("next_step")
    numbers = next(t for t in app.text_input if t.label.startswith("Readings"))
    numbers.set_value("118 120 119")
    next(b for b in app.button if b.label == "Save readings").click().run()
    assert not app.exception
    history = overview(store, JOB).panels[0].history
    assert [reading.value_um for reading in history.readings] == [118, 120, 119]
    assert "may still come off" in words(app)
    app.button(key="next_save_correct").click().run()
    steps = overview(store, JOB).panels[0].history.steps
    assert steps[-1].kind == "correct"
    assert steps[-1].removal_high_um > 0


def test_a_double_press_books_once_says_so_and_is_taken_back(record: Path, store: Store) -> None:
    def wipes() -> int:
        return sum(step.kind == "wipe" for step in overview(store, JOB).panels[0].history.steps)

    there = wipes()
    app = open_page("next_step")
    for _ in range(2):
        app.button(key="next_do_wipe").click().run()
    assert wipes() == there + 1
    said = words(app)
    assert "Entered:" in said
    assert re.search(r"solvent wipe, bonnet, \d\d.?:\d\d", said)
    app.button(key="entered_undo").click().run()
    assert wipes() == there
    assert "Entered:" not in words(app)


def test_readings_from_the_pad_go_to_their_places_once(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = {"readings": {"middle": [118, 120, 119], "front left": [112.5]}, "number": "1"}
    left = [given, given]  # a second press of Save
    monkeypatch.setattr(keypad, "taken_up", lambda *_: left.pop() if left else None)
    open_page("next_step")
    readings = overview(store, JOB).panels[0].history.readings
    assert [(one.place, one.value_um) for one in readings] == [
        ("middle", 118),
        ("middle", 120),
        ("middle", 119),
        ("front left", 112.5),
    ]


def test_a_unit_that_slipped_is_asked_about_before_it_is_kept(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = [{"readings": {"middle": [4.5]}, "number": "1"}]
    monkeypatch.setattr(keypad, "taken_up", lambda *_: left.pop() if left else None)
    app = open_page("next_step")
    assert "mil" in app.error[0].value
    assert overview(store, JOB).panels[0].history.readings == ()
    app.button(key="readings_sure").click().run()
    assert [one.value_um for one in overview(store, JOB).panels[0].history.readings] == [4.5]


def test_an_unknown_job_in_the_address_shows_nobody_elses_data(record: Path) -> None:
    for name in PAGES:
        if name in ("today", "set_up"):
            continue
        app = AppTest.from_file(str(MAIN), default_timeout=60)
        app.query_params["job"] = "unknown"
        app.run()
        app.switch_page(f"{name}.py").run()
        assert "There is no job unknown" in app.error[0].value
        assert JOB not in words(app)


def test_jobs_are_closed_searched_and_sorted(record: Path, store: Store) -> None:
    for number, colour in enumerate(("red", "white", "red", "blue")):
        create_job(store, f"A-{number}", colour=colour)
    app = open_page("today")
    app.text_input(key="today_search").set_value("red").run()
    app.selectbox(key="today_order").set_value("Reference").run()
    shown = [b.key for b in app.button if b.key and b.key.startswith("open_")]
    assert shown == [f"open_{job_named(store, name).id}" for name in ("A-0", "A-2")]
    app.button(key=f"close_{job_named(store, 'A-0').id}").click().run()
    assert any(e.label == "1 closed" for e in app.expander)
    app.button(key=f"close_{job_named(store, 'A-0').id}").click().run()
    assert not any("closed" in e.label for e in app.expander)


def test_a_panel_is_opened_by_touching_it_and_a_wash_is_one_press(
    record: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = ["roof"]
    monkeypatch.setattr(plan_touch, "taken_up", lambda *_: left.pop() if left else None)
    app = open_page("car")
    assert app.selectbox(key="pick_panel").value == "roof"
    for kind in ("wash", "decontaminate"):
        app.button(key="car_next").click().run()
        assert overview(store, JOB).panels[1].history.steps[-1].kind == kind
    # the bonnet has both already: nothing is booked twice
    assert sum(step.kind == "wash" for step in overview(store, JOB).panels[0].history.steps) == 1


def test_the_report_page_offers_every_form(record: Path) -> None:
    app = open_page("report")
    # in the order in which they stand, row by row, which is that of the keyboard too
    assert [button.label for button in downloads(app)] == [
        "Report as PDF",
        "Report as web page",
        "Figures as table",
        "Picture for posting",
        "What advertising may say",
    ]


@pytest.mark.parametrize("audience", ["customer", "full"])
def test_the_files_of_a_report_are_made_when_they_are_asked_for(
    record: Path, store: Store, audience: Audience
) -> None:
    compare_ready(store, JOB, ready_panels(overview(store, JOB)))
    made = made_report(store, JOB, state_of_record(store, JOB), made_on="2026-01-06", audience=audience)
    assert made.no_posting is None
    assert made.page().decode() == made.html
    assert made.pdf().startswith(b"%PDF-")
    assert made.claims().startswith(b"%PDF-")
    assert "bonnet" in made.table().decode("utf-8-sig")
    with Image.open(io.BytesIO(made.posting())) as picture:
        assert picture.size == (WIDTH_PX, HEIGHT_PX)


def test_panels_are_compared_as_soon_as_they_are_measured(record: Path, store: Store, shots: Shots) -> None:
    for stage, file in (("decontaminated", shots.before), ("wiped", shots.after)):
        picture = file.read_bytes()[:-2] + b"\x00\x00\xff\xd9"
        path = record.parent / f"{stage}.jpg"
        path.write_bytes(picture)
        add_photograph(store, JOB, path, Place(panel="roof", stage=stage, px_per_mm=PX_PER_MM))
    assert not comparisons_of(store, JOB)
    measured(open_page("photographs"), record)
    # the bonnet is measured already, and is left to whoever asks
    assert [one.panel for one in comparisons_of(store, JOB)] == ["roof"]


def test_the_passphrase_is_kept_as_a_hash_only(record: Path, store: Store) -> None:
    app = open_page("set_up")
    first, again = (t for t in app.text_input if t.label.startswith(("New passphrase", "Once more")))
    first.set_value("four plain words here")
    again.set_value("four plain words here")
    next(b for b in app.button if b.label == "Set it").click().run()
    kept = setting(store, SETTING)
    assert fits("four plain words here", kept)
    assert "plain words" not in json.dumps(kept)
    assert b"plain words" not in (record / "record.sqlite").read_bytes()


def test_the_network_sees_nothing_without_the_door(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    listen_to("0.0.0.0", monkeypatch)
    app = AppTest.from_file(str(MAIN), default_timeout=60).run()
    assert "has no door" in app.error[0].value
    assert not app.title
    monkeypatch.setattr(server, "_stands", True)
    app = AppTest.from_file(str(MAIN), default_timeout=60).run()
    assert app.title[0].value == PAGES["today"][0]


def test_tables_with_an_error_are_refused_and_not_kept(record: Path) -> None:
    app = open_page("set_up")
    area = next(a for a in app.text_area if a.label == "tables.toml")
    area.set_value("[film]\nthin_um = -1\n")
    next(b for b in app.button if b.label == "Check and keep").click().run()
    assert "thin_um" in "".join(error.value for error in app.error).replace("\\", "")
    assert not (record / "tables.toml").exists()


def test_a_reload_finds_job_and_panel_again(record: Path) -> None:
    app = AppTest.from_file(str(MAIN), default_timeout=60)
    app.query_params["job"] = JOB
    app.query_params["panel"] = "roof"
    app.run()
    app.switch_page("photographs.py").run()
    assert app.selectbox(key="pick_panel").value == "roof"


@pytest.mark.parametrize("name", ["panel_result", "before_after", "next_step"])
def test_a_measured_panel_does_not_wait_for_the_others(
    record: Path, store: Store, shots: Shots, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    path = record.parent / "roof.jpg"
    path.write_bytes(shots.before.read_bytes()[:-2] + b"\x00\x00\xff\xd9")
    add_photograph(store, JOB, path, Place(panel="roof", stage="decontaminated", px_per_mm=PX_PER_MM))
    started: list[str] = []
    monkeypatch.setattr(background_run, "start", lambda _, reference: started.append(reference))
    monkeypatch.setattr(background_run, "wait_for", lambda *_, **__: pytest.fail("it waits"))
    app = open_page(name)
    assert not app.error
    assert started == [JOB]
    assert "1 photograph of other panels being measured." in words(app)


def test_the_photographs_of_a_panel_stand_as_the_work_ran(record: Path, store: Store, shots: Shots) -> None:
    path = record.parent / "first.jpg"
    path.write_bytes(shots.before.read_bytes()[:-2] + b"\x00\x00\xff\xd9")
    add_photograph(store, JOB, path, Place(panel="bonnet", stage="washed", px_per_mm=PX_PER_MM))
    measure_job(store, JOB)
    picked = next(s for s in open_page("panel_result").selectbox if s.label == "Photograph")
    assert [one.partition(",")[0] for one in picked.options] == [
        "Washed",
        "Decontaminated (before)",
        "Wiped (after)",
    ]
    assert picked.index == 2
