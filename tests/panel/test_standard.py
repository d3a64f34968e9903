"""The standard mark: where lines are cut, and what each strength adds up to."""

from dataclasses import fields, replace

import numpy as np
import pytest

from defectmap.panel.measurement import Mark
from defectmap.panel.standard import by_standard, spectrum


def line(um: list[float], *, polarity: str = "bright", step_mm: float = 0.5) -> Mark:
    count = len(um)
    return Mark(
        kind="swirl",
        polarity=polarity,  # type: ignore[arg-type]
        points=np.column_stack([np.zeros(count), 10.0 * np.arange(count)]),
        length_mm=step_mm * (count - 1),
        width_mm=0.1,
        contrast=0.3,
        contrast_to_noise=5.0,
        um=np.array(um, np.float32),
        beside=np.linspace(0.1, 0.2, count, dtype=np.float32),
    )


def test_a_line_is_cut_where_it_falls_below_the_standard() -> None:
    one = line([150, 150, 150, 80, 60, 40, 120, 120, 200])
    marks, faint = by_standard([one])
    assert [mark.length_mm for mark in marks] == pytest.approx([1.0, 1.0])
    assert [mark.points[:, 1].tolist() for mark in marks] == [[0, 10, 20], [60, 70, 80]]
    assert marks[1].equivalent_width_um == 120
    assert marks[0].beside.tolist() == one.beside[:3].tolist()
    assert [mark.length_mm for mark in faint] == pytest.approx([1.0])
    assert [mark.equivalent_width_um for mark in faint] == [60.0]


@pytest.mark.parametrize(("um", "counts"), [(95.0, False), (105.0, True)])
def test_the_standard_is_100_um_over_a_millimetre(um: float, counts: bool) -> None:
    """Stated beside every figure (`docs/how-it-works.md`)."""
    marks, _ = by_standard([line([um] * 3)])
    assert bool(marks) is counts
    assert bool(by_standard([line([150.0] * 2, step_mm=0.95)])[0]) is False
    assert bool(by_standard([line([150.0] * 2, step_mm=1.05)])[0]) is True


def test_a_piece_keeps_everything_else_of_its_line() -> None:
    whole = replace(line([150] * 6), stands_for=1.5, lamp_places=3)
    piece = whole.piece(slice(1, 4), length_mm=1.0, equivalent_width_um=150.0)
    told = {"length_mm": 1.0, "equivalent_width_um": 150.0}
    for name in (one.name for one in fields(Mark)):
        kept = getattr(whole, name)
        expected = told.get(name, kept[1:4] if isinstance(kept, np.ndarray) else kept)
        np.testing.assert_array_equal(getattr(piece, name), expected)


def test_pieces_under_a_millimetre_and_points_alone_are_no_marks() -> None:
    marks, faint = by_standard([line([150, 150, 80, 150, 80, 150, 150])])
    assert (marks, faint) == ([], [])


def test_strength_is_counted_in_a_lines_own_polarity() -> None:
    dark = line([-150.0] * 4, polarity="dark")
    wrong = line([-150.0] * 4, polarity="bright")
    marks, _ = by_standard([wrong, dark])
    assert [(mark.polarity, mark.equivalent_width_um) for mark in marks] == [("dark", 150)]


def test_one_line_does_not_go_on_in_the_next() -> None:
    marks, _ = by_standard([line([80, 150, 150]), line([150, 150, 80])])
    assert marks == []


def test_spectrum_adds_up_the_pieces_of_each_strength() -> None:
    lines = [line([60.0] * 5), line([450.0] * 3), line([250, 250, 250, 90, 90, 90])]
    assert spectrum(lines, area_cm2=2.0) == pytest.approx(
        {50: (2.0 + 1.0 + 2.5) / 2, 100: 1.0, 200: 1.0, 400: 0.5}
    )
    assert spectrum(lines, area_cm2=0.0) == dict.fromkeys((50, 100, 200, 400), 0.0)


def test_a_line_without_strengths_from_an_older_record_is_left_out() -> None:
    old = line([])
    assert by_standard([old]) == ([], [])
    assert spectrum([old], area_cm2=1.0)[50] == 0.0
