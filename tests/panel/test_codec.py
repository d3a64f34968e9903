from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from defectmap.panel.arrays import completed, measurement_arrays
from defectmap.panel.codec import json_text, measurement_from, measurement_record, refusal_record, zone_png
from defectmap.panel.measurement import FilmFacts, PhotoFacts, Scale
from defectmap.words.photo_words import told
from defectmap.words.remark import Remark
from tests.measurements import panel_measurement, straight_mark

# Every key of schema 1, as promised to whoever reads these files; adding is allowed, dropping is not.
PROMISED = {
    "": {
        "schema",
        "photo",
        "scale",
        "hotspot",
        "zone",
        "marks",
        "density_mm_per_cm2",
        "longest_scratch_mm",
        "haze",
        "score",
        "warnings",
        "warning_details",
        "refused",
    },
    "photo": {"name", "sha256", "width_px", "height_px", "taken"},
    "scale": {"px_per_mm", "source"},
    "hotspot": {"x", "y", "radius_px", "lamps"},
    "zone": {"mask_png", "area_cm2"},
    "density_mm_per_cm2": {"swirl", "scratch", "all"},
}


@pytest.mark.parametrize("part", PROMISED)
def test_record_has_every_promised_key(part: str) -> None:
    record = measurement_record(panel_measurement())
    assert set(record[part] if part else record) >= PROMISED[part]


def test_marks_have_every_promised_key() -> None:
    mark = measurement_record(panel_measurement())["marks"][0]
    assert set(mark) >= {"kind", "length_mm", "width_mm", "contrast", "points"}


def test_geometry_turns_to_x_right_y_down() -> None:
    record = measurement_record(panel_measurement(marks=(straight_mark("swirl", (5.0, 60.0), (7.0, 90.0)),)))
    assert record["marks"][0]["points"][0] == [60.0, 5.0]
    assert (record["hotspot"]["x"], record["hotspot"]["y"]) == (210.0, 120.0)


def test_points_can_be_left_out() -> None:
    record = measurement_record(panel_measurement(), with_points=False)
    assert all("points" not in mark for mark in record["marks"])


def test_text_is_valid_json_even_with_a_figure_that_is_not_finite() -> None:
    record = measurement_record(panel_measurement(haze=math.nan, longest_scratch_mm=math.inf))
    read = json.loads(json_text(record))
    assert read["haze"] is None
    assert read["longest_scratch_mm"] is None


def test_infinity_never_reaches_a_file() -> None:
    with pytest.raises(ValueError, match="JSON compliant"):
        json_text({"score": math.inf})


def test_uncalibrated_is_said() -> None:
    record = measurement_record(panel_measurement(scale=Scale(px_per_mm=1.0, source="none")))
    assert record["calibrated"] is False
    assert any("uncalibrated" in warning for warning in record["warnings"])
    assert record["scale"]["source"] == "none"


@pytest.mark.parametrize("name", ["Tür.jpg", "ドア.jpg", "bad\udcff.jpg", 'quo"te.jpg'])
def test_any_file_name_survives(name: str) -> None:
    facts = PhotoFacts(name=name, sha256="0" * 64, width_px=400, height_px=300)
    text = json_text(measurement_record(panel_measurement(photo=facts)))
    assert json.loads(text.encode("utf-8"))["photo"]["name"] == name.replace("\udcff", "?")


def test_refusal_has_its_reason_and_no_marks() -> None:
    record = refusal_record("door.jpg", "It is a poem. Photograph a panel.", data=b"")
    assert record["refused"] == "It is a poem. Photograph a panel."
    assert "marks" not in record
    # SHA-256 of no bytes at all, FIPS 180-4 (NIST example values; from memory).
    assert record["photo"]["sha256"] == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def test_zone_mask_has_the_photograph_s_size_and_is_nonzero_where_marks_count(tmp_path: Path) -> None:
    zone = panel_measurement().zone
    (tmp_path / "zone.png").write_bytes(zone_png(zone))
    read = np.asarray(Image.open(tmp_path / "zone.png"))
    np.testing.assert_array_equal(read > 0, zone)
    assert read.dtype == np.uint8


def same(one: Any, other: Any) -> None:
    """Field by field, arrays and what is no number included."""
    assert type(one) is type(other)
    if dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            same(getattr(one, field.name), getattr(other, field.name))
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for part, again in zip(one, other, strict=True):
            same(part, again)
    elif isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other)
        assert one.dtype == other.dtype
    else:
        assert one == other or (isinstance(one, float) and math.isnan(one) and math.isnan(other))


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"marks": ()},
        {"spots": (), "rings": ()},
        {"scale": Scale(px_per_mm=1.0, source="none")},
        {"haze": math.nan, "warnings": ()},
    ],
)
def test_what_is_read_back_is_what_was_written(changes: dict[str, Any]) -> None:
    measured = panel_measurement(**changes)
    text = json.loads(json_text(measurement_record(measured, with_points=False)))
    same(completed(measurement_from(text), measurement_arrays(measured)), measured)


def test_without_arrays_points_are_good_to_a_hundredth_of_a_pixel_and_the_zone_is_empty() -> None:
    measured = panel_measurement(marks=(straight_mark("scratch", (5.126, 60.0), (7.0, 90.333)),))
    again = measurement_from(json.loads(json_text(measurement_record(measured))))
    np.testing.assert_allclose(again.marks[0].points, measured.marks[0].points, atol=0.005001)
    assert again.zone.size == 0
    assert measurement_record(again) == measurement_record(measured)


def test_arrays_of_another_measurement_are_refused() -> None:
    again = measurement_from(measurement_record(panel_measurement()))
    with pytest.raises(ValueError, match="arrays of 0 marks for a record of 2"):
        completed(again, measurement_arrays(panel_measurement(marks=())))


def test_a_record_of_an_earlier_version_is_read() -> None:
    """What version 0.1.0 left out of a record (none of its keys has ever gone since)."""
    old = measurement_record(panel_measurement())
    for key in ("measuring", "figures_of"):
        del old[key]
    assert measurement_from(old).density == panel_measurement().density


def test_a_film_is_read_back_with_its_frames() -> None:
    film = FilmFacts(
        frames=60,
        said_frames=60,
        used=(0, 7),
        to_first=(np.eye(3), np.array([[1.0, 0.01, 5.5], [-0.01, 1.0, -3.25], [1e-6, 0.0, 1.0]])),
        sure_px=(0.0, 0.5),
        left_out={"blurred": 3},
        directions_share=0.875,
        lamps=((12.5, 30.0), (99.0, 31.25)),
    )
    record = json.loads(json_text(measurement_record(panel_measurement(film=film))))
    assert record["film"]["used"] == [0, 7]
    assert record["film"]["to_first"][1][0] == [1.0, 0.01, 5.5]
    again = measurement_from(record).film
    assert again is not None
    np.testing.assert_array_equal(again.to_first, film.to_first)
    assert (again.used, again.sure_px, again.directions_share) == (film.used, film.sure_px, 0.875)
    assert again.left_out == film.left_out
    assert again.lamps == film.lamps
    del record["film"]["lamps"]  # as an earlier version wrote it
    old = measurement_from(record).film
    assert old is not None
    assert old.lamps == ()
    assert "film" not in measurement_record(panel_measurement())


def test_how_many_lamp_places_lit_a_mark_is_written_where_it_was_more_than_one() -> None:
    one = straight_mark("swirl", (5.0, 60.0), (7.0, 90.0))
    several = dataclasses.replace(one, lamp_places=3)
    record = measurement_record(panel_measurement(marks=(one, several)))
    assert ["lamp_places" in mark for mark in record["marks"]] == [False, True]
    assert [mark.lamp_places for mark in measurement_from(record).marks] == [1, 3]


def test_fainter_marks_and_strengths_come_back() -> None:
    faint = straight_mark("swirl", (9.0, 60.0), (11.0, 90.0))
    strength = {50: 4.0, 100: 2.5, 200: 1.0, 400: 0.25}
    measured = panel_measurement(faint_marks=(faint,), strength=strength)
    record = json.loads(json_text(measurement_record(measured, with_points=False)))
    again = completed(measurement_from(record), measurement_arrays(measured))
    same(again, measured)
    assert record["strength_mm_per_cm2"] == {"50": 4.0, "100": 2.5, "200": 1.0, "400": 0.25}


def test_warnings_are_kept_as_codes_and_those_of_earlier_versions_as_they_stand() -> None:
    said = (Remark(code="small-zone", values={"share": 0.1, "cause": "dark"}),)
    record = json.loads(json_text(measurement_record(panel_measurement(warnings=said))))
    assert record["warnings"][0].startswith(
        "Marks can be counted on only 10 % of the picture: the paint is too dark"
    )
    assert record["warning_details"][0] == {"code": "small-zone", "values": {"share": 0.1, "cause": "dark"}}
    assert measurement_from(record).warnings == said
    del record["warning_details"]
    (kept,) = measurement_from(record).warnings
    assert told(kept) == record["warnings"][0]
