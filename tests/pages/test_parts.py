"""Small parts behind the pages: words, figures, readings, files, charts, the shelf, the launcher."""

from __future__ import annotations

import dataclasses
import doctest
import importlib
import itertools
import math
import pkgutil
import socket
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import ImageFont

from defectmap import pages as behind
from defectmap.errors import BadReading, JobError, PhotoError
from defectmap.pages import launch
from defectmap.pages.images import overlay_jpeg
from defectmap.pages.reading_entry import read_numbers
from defectmap.pages.uploads import MOST_MEGABYTES, Aim, check_file, place_for, tidy_name
from defectmap.pages.widgets.budgetbar import budget_svg, budget_words, stays_um
from defectmap.pages.widgets.charts import length_chart, length_classes, length_words, ring_chart, ring_words
from defectmap.pages.widgets.interval_bar import axis, interval_svg
from defectmap.pages.widgets.picture import act_from
from defectmap.pages.widgets.strength_bars import strength_svg
from defectmap.panel.codec import measurement_record
from defectmap.panel.score_parts import score_parts
from defectmap.record.corrections import Exclusion, Relabel, corrected, from_plain, relabel, to_plain
from defectmap.report.posting import FONTS
from defectmap.trade.budget import Budget
from defectmap.trade.table_forms import Range
from defectmap.words.page_words import plain, score_words
from defectmap.words.remark import Remark
from tests.measurements import panel_measurement, straight_mark


@pytest.mark.parametrize(
    "typed", ["![x](http://y)", "[a](b)", ":red[x]", "$x^2$", "`x`", "<b>", "# x", "**x**", "~~x~~", "a_b_"]
)
def test_typed_words_are_never_read_as_markdown(typed: str) -> None:
    # CommonMark 0.31, 2.4: any ASCII punctuation may be escaped by a backslash and then stands for itself
    safe = plain(typed)
    assert safe.replace("\\", "") == typed
    for at, character in enumerate(safe):
        if character in "!([*_`$#<~" or (character == ":" and "red" in typed):
            assert safe[at - 1] == "\\"


@pytest.mark.parametrize(("score", "band"), [(85, "clear"), (84.9, "lightly marked"), (0, "heavily marked")])
def test_bands_of_the_score(score: float, band: str) -> None:
    assert score_words(score) == band


def test_the_parts_of_the_score_and_the_score_make_100() -> None:
    record = measurement_record(panel_measurement())
    assert sum(part.points for part in score_parts(record)) + record["score"] == pytest.approx(100)


@pytest.mark.parametrize("words", ["", "abc", "112 -3", "1e3", "112 110 x"])
def test_what_is_no_reading_is_refused(words: str) -> None:
    with pytest.raises(BadReading, match="reading"):
        read_numbers(words)


def test_an_interval_is_drawn_where_it_lies() -> None:
    least, most = axis(-77, -64)
    root = ElementTree.fromstring(interval_svg(-71, -77, -64))
    dot = next(node for node in root.iter() if node.tag.endswith("circle"))
    # the axis runs from 34 to 386 in a picture 420 wide
    assert float(dot.get("cx", "0")) == pytest.approx(34 + (-71 - least) / (most - least) * 352, abs=0.1)
    assert "►" in interval_svg(150, -20, 900)


def boxes_of_words(svg: str) -> list[tuple[float, float, float]]:
    """Left and right end and height of every text of a drawing, in a font wider than those of browsers."""
    boxes = []
    for node in ElementTree.fromstring(svg).iter():
        if node.tag.endswith("text"):
            font = ImageFont.truetype(str(FONTS / "DejaVuSans.ttf"), round(float(node.get("font-size", "0"))))
            wide, x = font.getlength(node.text or ""), float(node.get("x", "0"))
            left = {"middle": x - wide / 2, "end": x - wide}.get(node.get("text-anchor", "start"), x)
            boxes.append((left, left + wide, float(node.get("y", "0"))))
    return boxes


def ranges() -> list[tuple[float, float, float]]:
    return [(-71, -77, -64), (-99, -100, -97), (0, -20, 30), (40, 10, 90), (150, -20, 900), (-98, -99.6, -60)]


@pytest.mark.parametrize(("percent", "low", "high"), ranges())
def test_words_of_an_interval_neither_touch_nor_leave_the_picture(
    percent: float, low: float, high: float
) -> None:
    boxes = boxes_of_words(interval_svg(percent, low, high))
    assert all(left >= 0 and right <= 420 for left, right, _ in boxes)
    below = sorted(box for box in boxes if box[2] > 60)
    assert all(one[1] < other[0] for one, other in itertools.pairwise(below))


def test_files_are_looked_at_before_they_are_kept() -> None:
    with pytest.raises(PhotoError, match="holiday"):
        check_file(b"PK\x03\x04 a zip file", "holiday.jpg")
    with pytest.raises(PhotoError, match=f"the limit is {MOST_MEGABYTES} MB"):
        check_file(b"\xff\xd8" + bytes(MOST_MEGABYTES * 1_000_000), "big.jpg")


def test_names_decide_only_where_asked_and_clear() -> None:
    aim = Aim(panel="roof", stage="washed", spot="1")
    panels = {"roof": (), "left front door": ()}
    name = "left-front-door_wiped_spot2.jpg"
    assert place_for(name, aim, panels).panel == "roof"
    by_name = place_for(name, dataclasses.replace(aim, by_name=True), panels)
    assert (by_name.panel, by_name.stage, by_name.spot) == ("left front door", "wiped", "2")
    assert place_for("IMG_1.jpg", dataclasses.replace(aim, by_name=True), panels).panel == "roof"


@pytest.mark.parametrize("name", ["../../../etc/passwd", "C:\\a\\b\\x.jpg", "\x00\x07", "x" * 500 + ".heic"])
def test_names_of_files_are_tidied(name: str) -> None:
    tidy = tidy_name(name)
    assert 0 < len(tidy) <= 120
    assert tidy.isprintable()
    assert "/" not in tidy
    assert "\\" not in tidy


def test_every_mark_is_in_one_class_of_length() -> None:
    marks = [
        {"kind": kind, "length_mm": length} for kind in ("swirl", "scratch") for length in (0.5, 1, 7, 999)
    ]
    classes = length_classes(marks)
    assert sum(one.marks for one in classes) == len(marks)
    assert {one.label for one in classes if one.marks} == {"under 1", "1 to 2", "5 to 8", "over 200"}
    assert length_words(()) == "No mark was found."
    assert length_words(classes).startswith("8 marks")


def test_lines_of_trails_are_named_in_words_and_legend() -> None:
    marks = [{"kind": kind, "length_mm": 9.0} for kind in ("trail", "trail", "swirl")]
    classes = length_classes(marks)
    assert length_words(classes).startswith("3 marks, 2 of them lines of buffer trails; ")
    legend = length_chart(classes)["encoding"]["color"]["scale"]["domain"]
    assert legend == ["swirl marks", "buffer trails"]


def test_a_panel_without_marks_says_so_and_names_no_distance() -> None:
    rings = [{"inner_mm": 15, "outer_mm": 20, "area_cm2": 3.0, "density_mm_per_cm2": 0.0}]
    assert ring_words(rings) == "No mark shows."


@pytest.mark.parametrize(
    "given",
    [
        None,
        {},
        {"what": "kind", "photograph": "p", "number": "1", "mark": -1, "kind": "none"},
        {"what": "kind", "photograph": "p", "number": "1", "mark": 0, "kind": "rust"},
        {"what": "area", "photograph": "p", "number": "1", "box": [0, 0, "x", 2]},
        {"what": "format", "photograph": "p", "number": "1"},
    ],
)
def test_what_makes_no_sense_from_the_picture_is_left_alone(given: object) -> None:
    assert act_from(given) is None


def test_fainter_marks_are_not_in_the_picture_that_the_page_lays_them_over() -> None:
    measured = panel_measurement()
    faint = dataclasses.replace(
        measured, faint_marks=(straight_mark("swirl", (150.0, 70.0), (150.0, 270.0)),)
    )
    rgb = np.full((*measured.zone.shape, 3), 60, np.uint8)
    assert overlay_jpeg(rgb, faint, kinds=()) == overlay_jpeg(rgb, measured, kinds=())


def test_the_strengths_are_drawn_to_one_measure_before_and_after() -> None:
    before, after = {"50": 20.0, "100": 10.0, "400": 0.0}, {"50": 5.0, "100": 0.0, "400": 0.0}
    drawn = [one for one in ElementTree.fromstring(strength_svg(before, after)).iter() if one.get("width")]
    wide = [float(one.get("width", "0")) for one in drawn]
    assert wide[0] == pytest.approx(2 * wide[2], abs=0.2)  # 20 against 10
    assert wide[0] == pytest.approx(4 * wide[1], abs=0.2)  # 20 before against 5 after
    assert len(wide) == 6


def test_rings_without_area_are_left_out_of_the_words() -> None:
    rings = [
        {"inner_mm": 0, "outer_mm": 5, "area_cm2": 0.0, "density_mm_per_cm2": 99.0},
        {"inner_mm": 5, "outer_mm": 10, "area_cm2": 2.0, "density_mm_per_cm2": 8.0},
    ]
    assert "5 to 10 mm" in ring_words(rings)


def test_another_kind_moves_length_between_the_densities() -> None:
    measured = panel_measurement()
    changed = corrected(measured, [relabel(measured.marks[1], "swirl")])
    assert changed.density.scratch == 0
    assert changed.density.all == pytest.approx(measured.density.all)
    assert changed.longest_scratch_mm == 0
    # the score of the made-up measurement is not the formula's: compare with what counts anew, kinds kept
    same = corrected(measured, [relabel(measured.marks[1], "scratch")])
    assert changed.score is not None
    assert same.score is not None
    assert changed.score > same.score


def test_what_is_no_mark_no_longer_counts() -> None:
    measured = panel_measurement()
    changed = corrected(measured, [relabel(measured.marks[0], "none")])
    assert [mark.kind for mark in changed.marks] == ["scratch"]
    assert changed.area_cm2 == pytest.approx(measured.area_cm2)


def test_leaving_out_two_halves_adds_up_to_the_whole() -> None:
    measured = panel_measurement()
    left = corrected(measured, [Exclusion(left=200, top=0, right=400, bottom=300)])
    right = corrected(measured, [Exclusion(left=0, top=0, right=199.5, bottom=300)])
    assert left.area_cm2 + right.area_cm2 == pytest.approx(measured.area_cm2)
    lengths = [sum(mark.length_mm for mark in one.marks) for one in (left, right, measured)]
    # marks have a point every 8 or 12 px: up to one step of each is lost where it is cut
    assert lengths[0] + lengths[1] == pytest.approx(lengths[2], abs=0.8 + 1.2 + 0.1)


def test_leaving_out_everything_is_refused() -> None:
    with pytest.raises(JobError, match="nothing to count"):
        corrected(panel_measurement(), [Exclusion(left=0, top=0, right=1000, bottom=1000)])


def test_no_correction_changes_nothing_and_corrections_survive_the_record() -> None:
    measured = panel_measurement()
    assert corrected(measured, []) is measured
    both = (relabel(measured.marks[0], "trail"), Exclusion(left=1.5, top=2, right=3, bottom=4))
    assert from_plain(to_plain(both)) == both
    with pytest.raises(JobError, match="cannot be read"):
        from_plain([{"what": "kind", "x": 1}])


def test_a_later_correction_of_one_mark_wins_and_others_are_left_alone() -> None:
    measured = panel_measurement()
    first, second = relabel(measured.marks[0], "none"), relabel(measured.marks[0], "scratch")
    assert [m.kind for m in corrected(measured, [first, second]).marks] == ["scratch", "scratch"]
    elsewhere = Relabel(x=5.0, y=5.0, length_mm=20.0, kind="none")
    assert len(corrected(measured, [elsewhere]).marks) == 2


@pytest.mark.parametrize("spent", [0.0, 6.0, 40.0])
def test_the_parts_of_the_clear_coat_add_up_in_words_and_in_the_bar(spent: float) -> None:
    left = max(0.0, 12.0 - spent)
    budget = Budget(
        panel="roof",
        known=True,
        clear_um=Range(low=35.0, high=50.0),
        keep_um=20.0,
        lifetime_um=12.0,
        spent_um=Range(low=spent / 4, high=spent),
        left_um=left,
        assumption=Remark(code="clear coat in proportion"),
        remarks=(),
    )
    stays = stays_um(budget)
    assert stays + left + spent == pytest.approx(max(35.0, left + spent))
    assert f"{stays:.1f} µm stay" in budget_words(budget)
    drawn = ElementTree.fromstring(budget_svg(budget)).iter()
    widths = [float(one.get("width", "0")) for one in drawn if one.tag.endswith("rect") and one.get("y")]
    assert sum(widths) == pytest.approx(404, abs=1)  # of 420, 8 on either side
    boxes = boxes_of_words(budget_svg(budget))
    assert all(left >= 0 and right <= 420 for left, right, _ in boxes)
    for row in {box[2] for box in boxes}:
        beside = sorted(box for box in boxes if box[2] == row)
        assert all(one[1] < other[0] for one, other in itertools.pairwise(beside))


def test_charts_hold_every_class_and_ring() -> None:
    marks = [{"kind": "swirl", "length_mm": 4.0}, {"kind": "scratch", "length_mm": 31.0}]
    lengths = length_chart(length_classes(marks))
    rows = lengths["data"]["values"]
    assert sum(row["marks"] for row in rows) == 2
    assert {row["kind"] for row in rows} == set(lengths["encoding"]["color"]["scale"]["domain"])
    shown = {"inner_mm": 5.0, "outer_mm": 10.0, "density_mm_per_cm2": 2.0, "area_cm2": 3.0}
    unseen = {**shown, "density_mm_per_cm2": math.nan, "area_cm2": 0.0}
    assert [row["away"] for row in ring_chart([shown, unseen])["data"]["values"]] == [7.5]


def test_one_length_is_not_called_most() -> None:
    marks = [{"kind": "swirl", "length_mm": length} for length in (1.5, 4.0, 4.5, 9.0, 15.0)]
    assert length_words(length_classes(marks)) == "5 marks; the commonest length is 3 to 5 mm (2 of them)."
    assert length_words(length_classes(marks[:1])) == "1 mark, 1 to 2 mm long."


def test_the_server_is_told_to_listen_to_this_computer_only() -> None:
    assert launch.command(launch.Start(), 8501)[-4:] == ["--address", "localhost", "--port", "8501"]
    assert launch.command(launch.Start(network=True), 8501)[-3] == "0.0.0.0"


def test_the_network_needs_a_passphrase_first(tmp_path: Path) -> None:
    with pytest.raises(launch.LaunchError, match="needs a passphrase"):
        launch.serve(launch.Start(network=True, record=tmp_path / "record", browser=False))


def test_a_taken_port_is_passed_over() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        if port > 65000:
            pytest.skip("the system gave a port near the end of the range")
        assert port < launch.free_port(port) <= port + launch.PORTS_TRIED


def test_the_address_carries_the_job() -> None:
    assert launch.Start(job="A & B/7").url(8501) == "http://localhost:8501/?job=A%20%26%20B%2F7"


MODULES = [info.name for info in pkgutil.iter_modules(behind.__path__, f"{behind.__name__}.")]


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0
