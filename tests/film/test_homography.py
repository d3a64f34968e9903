from __future__ import annotations

import numpy as np

from defectmap.film.homography import Field, changed, freedoms, freedoms_of, transform

FIELD = Field.of((720, 1280))
SMALL = np.array([2e-4, -1e-4, 1e-4, 3e-4, -2e-4, 1e-4, 1e-4, -2e-4])


def test_freedoms_tell_how_points_move() -> None:
    points = np.array([[100.0, 50.0], [900.0, 600.0], [640.0, 360.0]])
    for way in ((1.0, 0.0), (0.0, 1.0)):
        across = np.tile(way, (3, 1))
        told = freedoms(points, across, FIELD) @ SMALL
        moved = (transform(changed(np.eye(3), SMALL, FIELD), points) - points) @ way
        np.testing.assert_allclose(told, moved, atol=2e-4)


def test_freedoms_are_read_back() -> None:
    np.testing.assert_allclose(freedoms_of(changed(np.eye(3), SMALL, FIELD), FIELD), SMALL, atol=1e-6)


def test_changes_follow_each_other() -> None:
    one = changed(np.eye(3), SMALL, FIELD)
    two = changed(one, -SMALL, FIELD)
    np.testing.assert_allclose(two, np.eye(3), atol=2e-4)
