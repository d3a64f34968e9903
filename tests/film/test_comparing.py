from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from defectmap.comparison.contract import comparison_record
from defectmap.comparison.outcome import Comparison
from defectmap.film.comparing import compare_films
from defectmap.film.overlaying import lay
from defectmap.pictures.film import directions_picture, fused_pair
from tests.film.fields import SHAPE, straight_lines
from tests.film.measured import measured

FIELD = straight_lines(3, 260)
BEFORE = measured(FIELD)


def compared(keep: np.ndarray, *, phase: float = 2.0) -> Comparison:
    return compare_films(BEFORE, measured(FIELD[keep], phase=phase, name="after"), after_stage="wiped")


def test_the_same_paint_under_another_sweep_is_not_told_apart() -> None:
    change = compared(np.arange(len(FIELD))).change("density all")
    assert change.distinguishable is False
    assert abs(change.change_percent or 99) < 4


def test_what_was_removed_is_found_with_a_narrow_interval() -> None:
    keep = np.flatnonzero(np.random.default_rng(1).uniform(size=len(FIELD)) < 0.5)
    lengths = np.hypot(*(FIELD[:, 1] - FIELD[:, 0]).T)
    true = 100 * (lengths[keep].sum() / lengths.sum() - 1)
    said = compared(keep)
    change = said.change("density all")
    low, high = change.ci95_percent or (0, 0)
    assert low < true < high
    assert abs((change.change_percent or 0) - true) < 4
    assert high - low < 25
    assert said.claim.word == "removed"
    record = comparison_record(said)
    assert record["density_mm_per_cm2"]["all"]["distinguishable"] is True
    assert record["score"]["change_percent"] is None


def test_another_place_gives_reasons_and_no_figure() -> None:
    said = compare_films(BEFORE, measured(straight_lines(4, 260), name="after"))
    assert said.comparable.verdict == "no"
    assert [reason.code for reason in said.comparable.reasons] == ["films do not fit"]
    assert said.changes == ()


def test_one_file_twice_and_empty_paint_are_said() -> None:
    assert [r.code for r in compare_films(BEFORE, BEFORE).comparable.reasons] == ["same file"]
    few = compare_films(BEFORE, measured(FIELD[:2], name="after"))
    assert "films show few marks" in [r.code for r in few.comparable.reasons]


@pytest.mark.parametrize(("unfit", "verdict"), [(5, "yes"), (15, "with care"), (35, "no")])
def test_a_film_of_which_few_frames_lie_is_no_proof(unfit: int, verdict: str) -> None:
    """Marks that only the other frames show are missing, as if they had been polished away."""
    after = measured(FIELD, phase=2.0, name="after")
    assert after.panel.film is not None
    facts = replace(after.panel.film, left_out={"does not fit": unfit, "lamp place known": 90})
    said = compare_films(BEFORE, replace(after, panel=replace(after.panel, film=facts)), after_stage="wiped")
    assert said.comparable.verdict == verdict
    assert ("film lies in part" in [r.code for r in said.comparable.reasons]) is (verdict != "yes")
    assert bool(said.changes) is (verdict != "no")


def test_sweeps_of_opposite_halves_share_too_little() -> None:
    left = replace(BEFORE, lamps=tuple(lamp for lamp in BEFORE.lamps if lamp.x < 200))
    right = measured(FIELD, phase=1.0, name="after")
    right = replace(right, lamps=tuple(lamp for lamp in right.lamps if lamp.x > 1080))
    codes = [r.code for r in compare_films(left, right).comparable.reasons]
    assert codes == ["films share few directions"]


def test_overlay_finds_shift_and_turn() -> None:
    moved = FIELD.copy()
    turn = np.deg2rad(3.0)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    moved = (moved - [640, 360]) @ spin + [700, 330]
    found = lay(BEFORE, measured(moved, name="after"))
    assert found.sure
    points = np.array([[300.0, 200.0], [900.0, 500.0]])
    there = (points - [640, 360]) @ spin + [700, 330]
    from defectmap.film.homography import transform

    np.testing.assert_allclose(transform(found.to_before, there), points, atol=2.0)


def test_pictures_have_the_size_of_a_frame() -> None:
    one, other = fused_pair(BEFORE, measured(FIELD, phase=1.0, name="after"))
    assert one.shape == other.shape == SHAPE
    picture = directions_picture(BEFORE)
    assert picture.shape == (*SHAPE, 3)
    assert picture.max() > 100


@pytest.mark.parametrize("kind", ["swirl", "scratch", "trail"])
def test_kinds_add_up(kind: str) -> None:
    said = compared(np.arange(0, len(FIELD), 2))
    parts = [said.change(f"density {k}").before for k in ("swirl", "scratch", "trail")]  # type: ignore[arg-type]
    assert sum(parts) == pytest.approx(said.change("density all").before)
    assert said.change(f"density {kind}").before >= 0  # type: ignore[arg-type]
