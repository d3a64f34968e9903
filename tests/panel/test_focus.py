"""Is the picture sharp enough: by its lines, by the card's edges, or not to be told."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from defectmap import measure
from defectmap.errors import UnmeasurableLight
from defectmap.panel.focus import card_edge_px, focus_remarks, soft_px, wander_mm
from tests.cardshots import card_texture
from tests.panel.blurred import SHOT, seen
from tests.phantom import Panel, photograph, swirls
from tests.rendered import file_of


@pytest.mark.parametrize("blur_px", [4.0, 5.0])
def test_strong_blur_is_refused(blur_px: float) -> None:
    with pytest.raises(UnmeasurableLight, match="too blurred"):
        measure(seen(blur_px=blur_px), px_per_mm=20.0)


def test_slight_blur_is_measured_with_a_warning() -> None:
    result = measure(seen(blur_px=2.0), px_per_mm=20.0)
    assert result.marks
    assert "soft" in {warning.code for warning in result.warnings}


@pytest.mark.parametrize("orange_peel_rad", [0.0, 0.0012, 0.003])
def test_a_clean_panel_is_not_called_blurred_but_says_that_focus_is_unjudged(orange_peel_rad: float) -> None:
    result = measure(seen(density=0.0, panel=Panel(orange_peel_rad=orange_peel_rad)), px_per_mm=20.0)
    assert result.score == 100.0
    assert {warning.code for warning in result.warnings} == {"focus-unjudged"}


@pytest.mark.parametrize("blur_px", [3.5])
@pytest.mark.parametrize("seed", [1, 3])
def test_a_few_long_marks_are_enough_to_see_that_a_picture_is_blurred(seed: int, blur_px: float) -> None:
    shot = replace(SHOT, size_px=(1400, 1800), seed=seed)
    rgb = cv2.GaussianBlur(photograph(swirls(seed, density_mm_per_cm2=8.0), shot).rgb, (0, 0), blur_px)
    noise = np.random.default_rng(seed).normal(0, 1.5, rgb.shape)
    with pytest.raises(UnmeasurableLight, match="too blurred"):
        measure(file_of(np.clip(rgb + noise, 0, 255).astype(np.uint8)), px_per_mm=20.0)


@pytest.mark.parametrize("sd_px", [1.0, 2.0, 3.5])
def test_the_edges_of_the_card_are_as_wide_as_the_blur_makes_them(sd_px: float) -> None:
    texture = card_texture()
    side = np.array([[0, 0], [0, texture.shape[1] - 1], [texture.shape[0] - 1, texture.shape[1] - 1]])
    outline = np.vstack([side, [[texture.shape[0] - 1, 0]]]).astype(float)
    light = np.asarray(cv2.GaussianBlur(texture.astype(np.float32) / 255, (0, 0), sd_px), np.float32)
    # a Gaussian step over its steepest slope: sqrt(2 pi) of its standard deviation; 12 %: the pixel's own
    # width, and the three pixels that a slope is read from
    width = card_edge_px(light, outline)
    assert width == pytest.approx(np.sqrt(2 * np.pi) * sd_px, rel=0.12)


def test_a_card_in_the_picture_judges_the_focus_where_no_mark_does() -> None:
    def said(edge_px: float | None) -> list[str]:
        return [one.code for one in focus_remarks([], card_edge_px=edge_px, scale=20.0, px_per_mm=20.0)]

    assert said(None) == ["focus-unjudged"]
    assert said(2.5) == []
    assert said(4.5) == ["soft"]


def test_without_a_card_there_is_no_edge_of_one() -> None:
    assert card_edge_px(np.ones((50, 50), np.float32), None) is None


def test_wander_is_nothing_on_a_parabola_and_the_ripple_of_a_wave() -> None:
    along = np.linspace(-1, 1, 400)
    parabola = np.column_stack([along**2, 10 * along])
    assert wander_mm(parabola) < 1e-12
    wave = parabola + np.column_stack([0.2 * np.sin(40 * along), np.zeros(400)])
    # RMS of a sine is its amplitude over the root of 2; 5 %: the parabola takes up a little of it.
    assert wander_mm(wave) == pytest.approx(0.2 / np.sqrt(2), rel=0.05)


def test_width_is_not_told_from_a_handful_of_marks() -> None:
    assert soft_px([], 20.0) == 0.0
