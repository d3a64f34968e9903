from __future__ import annotations

import numpy as np

from defectmap.film.joining import join
from defectmap.film.pieces import gather
from defectmap.film.strongest import line_marks, strongest
from defectmap.panel.measurement import Mark
from defectmap.panel.standard import by_standard
from tests.film.fields import a_mark, hand, lit, sampled, seen_by, straight_lines

PX_PER_MM = 10.0
SAME = np.eye(3)


def marks_of(frames: list[list[Mark]], to_map: list[np.ndarray]) -> list[Mark]:
    pieces = gather(frames, to_map)
    lines = strongest(join(pieces, shortest_px=PX_PER_MM), pieces, frames=len(frames))
    return by_standard(line_marks(lines, px_per_mm=PX_PER_MM, scale=PX_PER_MM))[0]


def test_halves_of_a_groove_in_two_frames_are_one_mark() -> None:
    points = sampled(np.array([[100.0, 200.0], [500.0, 260.0]]))
    (mark,) = marks_of([[a_mark(points[:230])], [a_mark(points[200:])]], [SAME, SAME])
    assert abs(mark.length_mm - 40.4) < 0.5
    assert mark.lamp_places == 2


def test_a_groove_seen_in_every_frame_counts_once() -> None:
    points = sampled(np.array([[100.0, 200.0], [500.0, 260.0]]))
    marks = marks_of([[a_mark(points + np.array([0, 0.3 * k]))] for k in (-1, 0, 1, 0, -1)], [SAME] * 5)
    assert len(marks) == 1
    assert abs(marks[0].length_mm - 40.4) < 0.4
    assert np.abs(marks[0].points[:, 0] - (200 + (marks[0].points[:, 1] - 100) * 0.15)).max() < 0.4


def test_crossing_grooves_and_close_ones_stay_apart() -> None:
    one = sampled(np.array([[100.0, 100.0], [300.0, 300.0]]))
    two = sampled(np.array([[100.0, 300.0], [300.0, 100.0]]))
    three = one + np.array([0.0, 12.0])
    marks = marks_of([[a_mark(one), a_mark(two)], [a_mark(three)]], [SAME, SAME])
    assert sorted(round(m.length_mm) for m in marks) == [28, 28, 28]


def test_the_strongest_frame_counts_and_its_sign() -> None:
    points = sampled(np.array([[100.0, 200.0], [300.0, 200.0]]))
    (mark,) = marks_of([[a_mark(points, 60.0)], [a_mark(points, -250.0)]], [SAME, SAME])
    assert mark.polarity == "dark"
    assert abs(mark.equivalent_width_um - 250) < 1
    assert mark.lamp_places == 1
    assert marks_of([[a_mark(points, 60.0)], [a_mark(points, 80.0)]], [SAME, SAME]) == []


def test_length_of_a_whole_field_is_that_of_its_lines() -> None:
    field = straight_lines(5, 90)
    true = [SAME] + [hand(k) for k in range(1, 10)]
    lamps = [(120 * k + 60.0, 360 + 200 * np.sin(1.3 * k)) for k in range(10)]
    frames = [
        seen_by(h, lit(field, lamp), seed=k) for k, (h, lamp) in enumerate(zip(true, lamps, strict=True))
    ]
    shown = np.zeros(len(field))
    for k, ends in enumerate(field):
        points = sampled(ends)
        inside = np.all((points >= 3) & (points <= [1276, 716]), axis=1)
        seen = np.zeros(len(points), bool)
        for lamp in lamps:
            for piece in lit(field[k : k + 1], lamp):
                seen |= (np.abs(points[:, None] - piece[None, ::4]).sum(2) < 4).any(1)
        shown[k] = (seen & inside).sum() / PX_PER_MM
    found = sum(mark.length_mm for mark in marks_of(frames, true))
    assert abs(found / shown.sum() - 1) < 0.04
