from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.panel.measurement import FilmFacts, Scale
from defectmap.pictures.overlay import brighten, draw_overlay
from defectmap.pictures.palette import FAINT, LIGHT_GREY, ORANGE, SKY_BLUE, STYLES, YELLOW
from tests.measurements import panel_measurement, straight_mark

GREY = np.full((300, 400, 3), 60, np.uint8)
ZOOM = 4  # 400 px is below the shortest picture that is drawn at its own size


def near(
    picture: NDArray[np.uint8], colour: NDArray[np.int64] | tuple[int, int, int], *, within: int = 30
) -> NDArray[np.bool_]:
    """Where the picture has about this colour; 30 codes allow for the soft edge of a line."""
    result: NDArray[np.bool_] = np.abs(picture.astype(int) - colour).max(axis=2) <= within
    return result


def test_picture_keeps_the_photograph_s_shape_above_its_legend() -> None:
    drawn = draw_overlay(GREY, panel_measurement())
    assert drawn.dtype == np.uint8
    assert drawn.shape[1] == 400 * ZOOM
    assert drawn.shape[0] > 300 * ZOOM


def test_mark_itself_is_not_covered() -> None:
    rgb = GREY.copy()
    rgb[79:82, 70:271] = 200
    drawn = draw_overlay(rgb, panel_measurement(spots=()))
    along = drawn[80 * ZOOM + 2, 90 * ZOOM : 200 * ZOOM]
    # 3 codes of 255: enlarging by cubic interpolation overshoots a little at the mark's edges.
    assert np.abs(along.astype(int) - brighten(rgb)[80, 100]).max() <= 3


def test_swirl_has_one_line_and_scratch_two() -> None:
    drawn = draw_overlay(GREY, panel_measurement())
    column = 200 * ZOOM
    swirl = np.flatnonzero(near(drawn, SKY_BLUE)[: 300 * ZOOM, column])
    scratch = np.flatnonzero(near(drawn, ORANGE)[: 300 * ZOOM, column])
    assert np.count_nonzero(np.diff(swirl) > 1) == 0
    assert np.count_nonzero(np.diff(scratch) > 1) == 1
    # The scratch lies at row 220; its lines are at equal distances from it.
    assert np.mean(scratch) == pytest.approx(220 * ZOOM + 1.5, abs=1.0)


def test_kinds_differ_in_more_than_colour() -> None:
    looks = {(style.sides, style.width, style.dash) for style in (FAINT, *STYLES.values())}
    assert len(looks) == len(STYLES) + 1


def test_trails_are_dashed() -> None:
    marks = (straight_mark("trail", (150.0, 60.0), (150.0, 340.0)),)
    drawn = draw_overlay(GREY, panel_measurement(marks=marks, spots=()))
    colour = np.array(STYLES["trail"].colour)
    columns = np.flatnonzero(near(drawn, colour)[: 300 * ZOOM].any(axis=0))
    assert np.count_nonzero(np.diff(columns) > 2) > 20


def test_fainter_marks_are_dotted_and_told_below() -> None:
    faint = (straight_mark("swirl", (150.0, 60.0), (150.0, 340.0)),)
    without = draw_overlay(GREY, panel_measurement(marks=(), spots=()))
    drawn = draw_overlay(GREY, panel_measurement(marks=(), faint_marks=faint, spots=()))
    columns = np.flatnonzero((drawn[: 300 * ZOOM] != without[: 300 * ZOOM]).any(axis=(0, 2)))
    dots = np.flatnonzero(near(drawn, LIGHT_GREY, within=60)[140 * ZOOM : 160 * ZOOM].any(axis=0))
    assert columns.min() < 70 * ZOOM
    assert columns.max() > 330 * ZOOM
    assert np.count_nonzero(np.diff(dots) > 2) > 100
    assert drawn.shape[0] >= without.shape[0]
    assert (drawn[300 * ZOOM :][: without.shape[0] - 300 * ZOOM] != without[300 * ZOOM :]).any()


def test_a_film_shows_the_places_of_its_lamp_and_no_ring() -> None:
    spots = ((60.0, 50.0), (340.0, 250.0))
    film = FilmFacts(
        frames=2,
        said_frames=2,
        used=(0, 1),
        to_first=(np.eye(3), np.eye(3)),
        sure_px=(0.0, 0.0),
        left_out={},
        directions_share=0.5,
        lamps=spots,
    )
    drawn = near(draw_overlay(GREY, panel_measurement(marks=(), spots=(), film=film)), YELLOW)[: 300 * ZOOM]
    rows, columns = np.nonzero(drawn)
    for x, y in spots:
        assert (np.hypot(columns / ZOOM - x, rows / ZOOM - y) < 3).any()
    away = np.min([np.hypot(columns / ZOOM - x, rows / ZOOM - y) for x, y in spots], axis=0)
    assert away.max() < 5


def test_large_photograph_is_drawn_smaller() -> None:
    drawn = draw_overlay(GREY, panel_measurement(), longest_side_px=200)
    assert drawn.shape[1] == 200


def test_uncalibrated_changes_the_words() -> None:
    typed = draw_overlay(GREY, panel_measurement())
    none = draw_overlay(GREY, panel_measurement(scale=Scale(px_per_mm=1.0, source="none")))
    assert typed[300 * ZOOM :].shape != none[300 * ZOOM :].shape or (typed[1200:] != none[1200:]).any()


def test_no_marks_is_a_picture_too() -> None:
    assert not near(draw_overlay(GREY, panel_measurement(marks=())), ORANGE)[: 300 * ZOOM].any()


def test_tone_curve_is_fixed() -> None:
    # 255 * (60/255)^0.6 = 107.0: a definition, so exact; ends stay where they are.
    np.testing.assert_array_equal(brighten(np.array([0, 60, 255], np.uint8)), [0, 107, 255])


@pytest.mark.parametrize("rgb", [GREY[:, :200], GREY[..., 0], GREY.astype(float)])
def test_wrong_picture_is_refused(rgb: Any) -> None:
    with pytest.raises(ValueError, match="rgb must be uint8 of shape"):
        draw_overlay(rgb, panel_measurement())
