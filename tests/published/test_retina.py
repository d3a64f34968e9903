"""A real picture: vessels of the retina, traced by the program and segmented without it.

`skimage.data.retina` ships inside scikit-image (CC0). Vessels are dark lines of many widths on uneven light,
which is what dark scratches are in the halo. The independent answer: background by a median, Otsu's threshold
(IEEE Trans. SMC 9:62, 1979), skeleton by scikit-image, branches by skan; none of it is code of ours.
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from scipy.spatial import KDTree
from skimage.filters import threshold_otsu
from skimage.morphology import remove_small_objects

from defectmap.panel.measurement import Mark
from defectmap.panel.photo.colour import linear_table
from tests.published import plain
from tests.published.skeletons import branches

NEAR_PX = 2.5


@pytest.fixture(scope="module")
def eye() -> tuple[NDArray[Any], NDArray[np.bool_], NDArray[Any]]:
    """Green channel at half size, where vessels are 2 to 8 px wide; field of view; darkness of vessels."""
    code = cv2.resize(skimage.data.retina()[..., 1], None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    seen = cv2.GaussianBlur(code, (0, 0), 3) > 20
    field = cv2.erode(seen.astype(np.uint8), np.ones((41, 41), np.uint8)) > 0
    around = cv2.medianBlur(code, 41).astype(np.float32)
    darker = (around - cv2.GaussianBlur(code.astype(np.float32), (0, 0), 1)) / np.maximum(around, 1)
    return code, field, darker


@pytest.fixture(scope="module")
def traced(eye: tuple[NDArray[Any], NDArray[np.bool_], NDArray[Any]]) -> tuple[list[Mark], NDArray[np.bool_]]:
    code, field, _ = eye
    # a scale at which lines are traced at full size
    found = plain.found_in(linear_table(255)[code], field, px_per_mm=10.0)
    return [mark for mark in found.marks if mark.polarity == "dark"], found.zone


def test_clear_vessels_are_found(
    eye: tuple[NDArray[Any], NDArray[np.bool_], NDArray[Any]], traced: tuple[list[Mark], NDArray[np.bool_]]
) -> None:
    _, field, darker = eye
    marks, zone = traced
    vessels = (darker > threshold_otsu(darker[field])) & field
    skeleton, table = branches(remove_small_objects(vessels, max_size=100))
    long = table.index[table.branch_distance >= 20]
    points = np.concatenate([skeleton.path_coordinates(i) for i in long])
    points = points[zone[tuple(points.astype(int).T)]]  # where the program says that lines would show
    assert len(points) > 1000
    away = KDTree(np.concatenate([mark.points for mark in marks])).query(points)[0]
    # 60 %: the limit follows the grain of the picture, and fine vessels fill this one like grain; with a
    # fixed limit it was 85 %. The skeleton also runs round the dark pit of the eye and across the disc
    # where vessels bundle, and two people who trace such pictures agree to 90 % within 2 px (DRIVE).
    assert (away <= NEAR_PX).mean() >= 0.6


def test_nothing_is_traced_where_no_vessel_is(
    eye: tuple[NDArray[Any], NDArray[np.bool_], NDArray[Any]], traced: tuple[list[Mark], NDArray[np.bool_]]
) -> None:
    _, field, darker = eye
    # A third of Otsu's threshold keeps the faint vessels too, which a person sees and Otsu leaves out.
    faint = (darker > threshold_otsu(darker[field]) / 3) & field
    away = cv2.distanceTransform((~faint).astype(np.uint8), cv2.DIST_L2, 5)
    row, column = np.round(np.concatenate([mark.points for mark in traced[0]])).astype(int).T
    assert (away[row, column] <= NEAR_PX).mean() >= 0.93
    # That must not hold by luck: a place taken at random is near a faint vessel far less often.
    assert (away[field] <= NEAR_PX).mean() < 0.5
