"""Corrections by hand hold for a film's lines too: what was taken out is in no comparison."""

from __future__ import annotations

import numpy as np
import pytest

from defectmap.comparison.outcome import Figure
from defectmap.film.comparing import compare_films
from defectmap.film.correcting import as_corrected
from defectmap.panel.measurement import MarkKind
from defectmap.record.corrections import Exclusion, corrected, relabel
from tests.film.fields import straight_lines
from tests.film.measured import measured

LINES = straight_lines(3, 120)


def test_without_corrections_nothing_changes() -> None:
    film = measured(LINES)
    same = as_corrected(film, film.panel)
    assert np.array_equal(same.lines.um, film.lines.um)
    assert same.line_kinds == film.line_kinds


def test_an_area_left_out_leaves_no_line_in_it() -> None:
    film = measured(LINES)
    panel = corrected(film.panel, [Exclusion(left=0, top=0, right=640, bottom=720)])
    cut = as_corrected(film, panel)
    assert (cut.lines.paths.points[:, 0] > 639).all()
    assert len(cut.line_kinds) == len(cut.lines.paths)
    assert 0.4 < panel.area_cm2 / film.panel.area_cm2 < 0.6
    assert panel.rings == ()  # of one lamp place only


def test_a_mark_taken_out_counts_in_no_comparison() -> None:
    before, after = measured(LINES), measured(LINES, phase=2.0, name="after")
    longest = max(after.panel.marks, key=lambda mark: mark.length_mm)
    panel = corrected(after.panel, [relabel(longest, "none")])
    fewer = compare_films(before, as_corrected(after, panel)).change("density all")
    every = compare_films(before, after).change("density all")
    assert fewer.after < every.after - 0.5 * longest.length_mm / after.panel.area_cm2
    assert fewer.before == pytest.approx(every.before, rel=1e-3)  # the films lie a little otherwise


def test_another_kind_moves_a_mark_from_one_figure_to_the_other() -> None:
    before, after = measured(LINES), measured(LINES, phase=2.0, name="after")
    longest = max(after.panel.marks, key=lambda mark: mark.length_mm)
    new: MarkKind = "swirl" if longest.kind == "scratch" else "scratch"
    panel = corrected(after.panel, [relabel(longest, new)])
    changed = compare_films(before, as_corrected(after, panel))
    plain = compare_films(before, after)
    figure: Figure = f"density {new}"  # type: ignore[assignment]
    assert changed.change(figure).after > plain.change(figure).after
    assert np.isclose(changed.change("density all").after, plain.change("density all").after, rtol=0.02)
