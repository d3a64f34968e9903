from __future__ import annotations

import dataclasses
import io

import pytest
from rich.console import Console

from defectmap.commands.measure_table import print_measurements
from defectmap.panel.measurement import PanelMeasurement, PhotoFacts, Scale
from tests.measurements import panel_measurement


def printed(*measurements: PanelMeasurement) -> str:
    written = io.StringIO()
    print_measurements(Console(file=written, width=160), measurements)
    return written.getvalue()


def named(name: str, **changes: Scale) -> PanelMeasurement:
    facts = PhotoFacts(name=name, sha256="0" * 64, width_px=400, height_px=300)
    return panel_measurement(photo=facts, **changes)


@pytest.mark.parametrize("count", [1, 2])
def test_figures_have_units_and_warnings_follow(count: int) -> None:
    text = printed(*[named(f"door{k}.jpg") for k in range(count)])
    # 50 mm of marks in 6 cm²: 20 mm of swirl and 30 mm of scratch.
    assert "mm/cm²" in text
    assert "8.33" in text
    assert "3.33" in text
    assert text.count("The lamp's reflection is far from the middle;") == count


@pytest.mark.parametrize("count", [1, 2])
def test_uncalibrated_figures_are_never_called_millimetres(count: int) -> None:
    text = printed(*[named(f"door{k}.jpg", scale=Scale(px_per_mm=1.0, source="none")) for k in range(count)])
    assert "uncalibrated" in text
    assert "mm" not in text.replace("px/mm", "")


def test_calibrated_and_uncalibrated_are_never_in_one_table() -> None:
    text = printed(named("a.jpg"), named("b.jpg", scale=Scale(px_per_mm=1.0, source="none")))
    assert "mm/cm²" in text
    assert "px/100 px²" in text


def test_name_with_brackets_is_printed_as_it_is() -> None:
    assert "door[bold].jpg" in printed(named("door[bold].jpg"))


def test_nothing_measured_prints_nothing() -> None:
    assert printed() == ""


def test_tables_need_no_zone_mask() -> None:
    slim = dataclasses.replace(named("a.jpg"), zone=panel_measurement().zone[:0, :0])
    assert "6.0" in printed(slim)


def test_a_missing_score_is_told_with_its_reason() -> None:
    unscaled = panel_measurement(score=None, scale=Scale(px_per_mm=1.0, source="none"))
    assert "needs a scale" in printed(unscaled)
    assert "standard marks would not show" in printed(panel_measurement(score=None))
    assert "needs a scale" not in printed(panel_measurement(score=None))
