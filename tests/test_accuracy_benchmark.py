"""The yardstick itself: what it says of measurements whose faults are known."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest

from benchmarks.accuracy import Judgement, evenly, judge, length_px, summary, table
from defectmap.panel.measurement import Density, Mark, PanelMeasurement
from tests.measurements import panel_measurement, straight_mark

PX_PER_MM = 10.0


def truth(*pieces: dict[str, list[list[float]] | str]) -> dict[str, Any]:
    return {"px_per_mm": PX_PER_MM, "hotspot": {"x": 210.0, "y": 120.0}, "visible": list(pieces)}


def piece(
    kind: str, start: tuple[float, float], stop: tuple[float, float]
) -> dict[str, list[list[float]] | str]:
    """A visible piece between two (row, column) points, as a truth file has it: x, y."""
    return {"kind": kind, "points": np.linspace(start, stop, 40)[:, ::-1].tolist()}


SWIRL = piece("swirl", (80.0, 70.0), (80.0, 270.0))
SCRATCH = piece("scratch", (220.0, 60.0), (220.0, 340.0))


def measured(*marks: Mark, density: None = None) -> PanelMeasurement:
    total = sum(mark.length_mm for mark in marks) / 6.0
    return panel_measurement(marks=marks, density=density or Density(swirl=total, scratch=0.0, trail=0.0))


def judged(measurement: PanelMeasurement, *pieces: dict[str, list[list[float]] | str]) -> Judgement:
    return judge("panel", measurement, truth(*pieces), seconds=1.0)


def test_perfect_measurement_is_judged_perfect() -> None:
    marks = (
        straight_mark("swirl", (80.0, 70.0), (80.0, 270.0)),
        straight_mark("scratch", (220.0, 60.0), (220.0, 340.0)),
    )
    found = judged(measured(*marks), SWIRL, SCRATCH)
    assert (found.f1, found.precision, found.recall) == (1.0, 1.0, 1.0)
    assert found.density_error == pytest.approx(0.0, abs=1e-9)
    assert found.lamp_offset == 0.0
    assert all(length == right > 0 for length, right in found.told.values())


@pytest.mark.parametrize(("aside_px", "f1"), [(2.4, 1.0), (2.6, 0.0)])
def test_a_mark_counts_within_two_and_a_half_pixels(aside_px: float, f1: float) -> None:
    marks = (straight_mark("swirl", (80.0 + aside_px, 80.0), (80.0 + aside_px, 260.0)),)
    found = judged(measured(*marks), piece("swirl", (80.0, 80.0), (80.0, 260.0)))
    assert found.precision == f1


def test_half_of_the_truth_found_is_a_recall_of_a_half() -> None:
    marks = (straight_mark("swirl", (80.0, 70.0), (80.0, 170.0)),)
    found = judged(measured(*marks), SWIRL)
    # 2.5 px of 200 more are within reach of the mark's end.
    assert found.recall == pytest.approx(0.5, abs=0.015)
    assert found.precision == 1.0
    assert found.density_error == pytest.approx(-0.5, abs=1e-6)


def test_truth_outside_the_zone_is_left_out() -> None:
    marks = (straight_mark("swirl", (80.0, 70.0), (80.0, 270.0)),)
    found = judged(measured(*marks), SWIRL, piece("swirl", (20.0, 70.0), (20.0, 270.0)))
    assert found.recall == 1.0
    # The piece at row 20 lights an area of 20 mm by 2 x 3 mm, of which nothing is in the zone; rows from 50.
    assert 0.5 < found.covered < 0.75


def test_wrong_kind_is_counted_for_the_kind_it_should_be() -> None:
    marks = (straight_mark("swirl", (220.0, 60.0), (220.0, 340.0)),)
    told = judged(measured(*marks), SWIRL, SCRATCH).told
    assert told["scratch"][0] > 0
    assert told["scratch"][1] == 0
    assert told["swirl"] == (0.0, 0.0)


def test_blank_panel_and_no_marks_are_said_without_figures() -> None:
    blank = judged(measured())
    assert "false marks 0.00" in summary([blank])
    assert "nan" not in table([blank], markdown=True)


def test_even_points_keep_the_length() -> None:
    line = evenly("swirl", np.array([[0.0, 0.0], [3.0, 4.0], [3.0, 14.0]]))
    assert length_px([line]) == pytest.approx(15.0, rel=1e-12)
    assert length_px([dataclasses.replace(line, points=line.points[:0])]) == 0.0
