"""Whole measurements on the shelf: they come back as they were put, or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from defectmap.panel.codec import measurement_record
from defectmap.panel.measurement import PanelMeasurement
from defectmap.record.shelf import place_of, put, take
from tests.measurements import panel_measurement


def test_the_shelf_gives_back_the_same_measurement(tmp_path: Path) -> None:
    measured = panel_measurement()
    put(measured, tmp_path / "kept" / "one.npz")
    again = take(tmp_path / "kept" / "one.npz")
    assert isinstance(again, PanelMeasurement)
    assert np.array_equal(again.zone, measured.zone)
    for one, other in zip(again.marks, measured.marks, strict=True):
        assert np.array_equal(one.points, other.points)
    # whole equality field by field, arrays aside
    assert measurement_record(again) == measurement_record(measured)


def test_a_damaged_shelf_is_no_measurement(tmp_path: Path) -> None:
    place = tmp_path / "one.npz"
    assert take(place) is None
    place.write_bytes(b"not a file of arrays")
    assert take(place) is None
    put(panel_measurement(), place)
    place.write_bytes(place.read_bytes()[:-200])
    assert take(place) is None


def test_another_scale_is_another_place(tmp_path: Path) -> None:
    scales = [(16.0, None), (17.0, None), (None, 17.0), (None, None)]
    places = {place_of(tmp_path, "ab" * 32, px_per_mm=n, field_width_mm=w) for n, w in scales}
    assert len(places) == len(scales)
