"""A marked box cannot be read any more."""

from __future__ import annotations

import numpy as np
import pytest

from defectmap.report.privacy import BlurBox, BoxError, unreadable

BOX = BlurBox(left=0.25, top=0.25, right=0.75, bottom=0.5)


def plate(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.integers(0, 256, (80, 160, 3), dtype=np.uint8)


def test_only_patches_of_mean_colour_are_left() -> None:
    covered = unreadable(plate(1), [BOX])
    inside = covered[20:40, 40:120].reshape(-1, 3)
    assert len(np.unique(inside, axis=0)) <= 8


def test_what_was_written_is_gone_and_not_only_smoothed() -> None:
    """Two texts with the same mean in each patch become the same picture: nothing tells them apart."""
    one, other = (np.full((80, 160, 3), 128, dtype=np.uint8) for _ in range(2))
    one[20:40:2, 40:120], one[21:40:2, 40:120] = 0, 255
    other[20:40:2, 40:120], other[21:40:2, 40:120] = 255, 0
    assert (one != other).any()
    assert (unreadable(one, [BOX]) == unreadable(other, [BOX])).all()


def test_outside_is_unchanged_and_the_original_is_kept() -> None:
    picture = plate(2)
    before = picture.copy()
    covered = unreadable(picture, [BOX])
    assert (picture == before).all()
    assert (covered[:18] == before[:18]).all()
    assert (covered[43:] == before[43:]).all()
    assert unreadable(picture, []) is picture


@pytest.mark.parametrize(
    "sides", [(0.5, 0, 0.5, 1), (0, 0.6, 1, 0.4), (-0.1, 0, 1, 1), (0, 0, 1, 1.2), (0, 0, float("nan"), 1)]
)
def test_a_box_that_is_none_is_refused(sides: tuple[float, float, float, float]) -> None:
    left, top, right, bottom = sides
    with pytest.raises(BoxError, match="shares of the picture from 0 to 1"):
        BlurBox(left=left, top=top, right=right, bottom=bottom)


def test_a_box_of_a_pixel_at_the_corner_is_covered() -> None:
    assert unreadable(plate(3), [BlurBox(left=0.999, top=0.999, right=1, bottom=1)]).shape == (80, 160, 3)
