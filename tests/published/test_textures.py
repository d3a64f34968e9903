"""Real textures under a lamp: nothing in them is a scratch, so none may be reported.

The pictures ship inside scikit-image (`skimage.data`: brick, grass, gravel; CC0): thousands of edges and
lines that are not scratches in a glossy coat. A lamp's reflection with its halo is added, as on paint whose
colour shows the texture, and a camera's noise.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from scipy.spatial import KDTree

from defectmap import measure
from defectmap.errors import NoHotspot
from tests.phantom.flat import Line, arc, lines_on_flat

SIZE_PX = (900, 1200)
PX_PER_MM = 10.0


def under_a_lamp(texture: np.ndarray, *, scratch: np.ndarray | None = None, seed: int = 0) -> bytes:
    """JPEG of a texture's colour under a glossy coat that mirrors a lamp.

    The texture's mean reflects 2 % of white, about as dark grey paint does; the halo falls off as a power of
    distance, as the lobe of a clear coat does (GGX: Walter et al., EGSR 2007).
    """
    rows, columns = np.mgrid[: SIZE_PX[0], : SIZE_PX[1]].astype(np.float32)
    away_mm = np.hypot(rows - 430.0, columns - 640.0) / PX_PER_MM
    halo = 1.3 / (1.0 + (away_mm / 5.0) ** 2) ** 1.5
    pad = [(0, max(0, wanted - had)) for wanted, had in zip(SIZE_PX, texture.shape, strict=True)]
    albedo = np.pad(texture, pad, mode="symmetric")[: SIZE_PX[0], : SIZE_PX[1]].astype(np.float32)
    light = halo + 0.02 * albedo / albedo.mean()
    if scratch is not None:
        line = Line(points=scratch, amplitude=0.3, width_px=1.5)
        light += lines_on_flat([line], size_px=SIZE_PX, background=0.0)
    noise = np.random.default_rng(seed).standard_normal(SIZE_PX).astype(np.float32)
    light += noise * np.sqrt(0.0135**2 * np.clip(light, 0, 1) + 0.0005**2)
    light = np.clip(light, 0, 1)
    # IEC 61966-2-1, encoding.
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return cv2.imencode(".jpg", np.round(255 * code).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 92])[
        1
    ].tobytes()


@pytest.mark.parametrize("name", ["grass", "gravel"])
def test_texture_has_no_scratch(name: str) -> None:
    picture = under_a_lamp(getattr(skimage.data, name)())
    if name == "gravel":
        with pytest.raises(NoHotspot, match="every direction"):
            measure(picture, px_per_mm=PX_PER_MM)
        return
    measured = measure(picture, px_per_mm=PX_PER_MM)
    assert measured.area_cm2 > 1.0  # nothing found over no area would prove nothing
    assert [mark.length_mm for mark in measured.marks if mark.kind == "scratch"] == []


def test_joints_of_bricks_are_a_pattern_and_no_paint() -> None:
    """Mortar joints are long, bright and straight like scratches; only they come back at even distances."""
    with pytest.raises(NoHotspot, match="pattern that repeats"):
        measure(under_a_lamp(skimage.data.brick()), px_per_mm=PX_PER_MM)


def arc_round_the_lamp() -> NDArray[np.float64]:
    """45 mm, 22 mm from the lamp's reflection: how a deep scratch shows."""
    return arc((430.0, 640.0), radius_px=220.0, start_deg=200.0, sweep_deg=117.0)


@pytest.mark.parametrize("name", ["grass", "gravel"])
def test_a_line_on_the_same_picture_is_found(name: str) -> None:
    """Finding no scratch proves something only where one would have been found."""
    points = arc_round_the_lamp()
    picture = under_a_lamp(getattr(skimage.data, name)(), scratch=points)
    marks = measure(picture, px_per_mm=PX_PER_MM).marks
    away = KDTree(np.concatenate([mark.points for mark in marks])).query(points)[0]
    assert (away < 2.5).mean() > 0.9


def test_a_straight_line_is_reported_as_a_scratch() -> None:
    # 40 mm long, 22 mm off the lamp
    points = np.column_stack([np.full(401, 210.0), np.linspace(440.0, 840.0, 401)])
    measured = measure(under_a_lamp(skimage.data.grass(), scratch=points), px_per_mm=PX_PER_MM)
    # 10 %: round ends, and what the texture hides.
    assert measured.longest_scratch_mm == pytest.approx(40.0, rel=0.1)
