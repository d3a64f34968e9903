"""One spot before and after: what is counted after something was done to one side."""

import math

import numpy as np
import pytest

from defectmap.comparison.matching import StrengthStep
from defectmap.comparison.pair import seen_corrected

POINTS = np.zeros((2, 2))
WEAKER = StrengthStep(step=math.log(0.8), error=0.02)


def test_what_the_same_marks_lost_is_given_back() -> None:
    factor = seen_corrected(None, WEAKER)
    assert factor is not None
    assert factor(POINTS) == pytest.approx([1.25, 1.25])
    twice = seen_corrected(lambda points: np.full(len(points), 2.0), WEAKER)
    assert twice is not None
    assert twice(POINTS) == pytest.approx([2.5, 2.5])


def test_nothing_is_given_back_where_no_marks_tell() -> None:
    assert seen_corrected(None, None) is None
