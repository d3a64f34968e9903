from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.errors import ScaleError
from defectmap.panel import card, scale, tuning
from defectmap.panel.measurement import PhotoFacts
from defectmap.panel.photo import colour
from defectmap.panel.photo import photograph as photo
from defectmap.panel.photo.photograph import Photo
from defectmap.words.remark import Remark
from tests.cardshots import TEXELS_PER_MM, View, card_texture, project
from tests.photofiles import exif_block, gradient, saved


def as_photo(picture: NDArray[np.uint8], *, focal_px: float | None = None) -> Photo:
    height, width = picture.shape[:2]
    return photo.Photo(
        facts=PhotoFacts(name="panel", sha256="0" * 64, width_px=width, height_px=height),
        luminance=colour.luminance(picture, top_code=255),
        rgb=picture,
        focal_px=focal_px,
    )


def test_typed_scale() -> None:
    typed = scale.from_typed(20)
    assert (typed.px_per_mm, typed.source, typed.calibrated) == (20.0, "typed", True)


def test_field_width() -> None:
    wide = scale.from_field_width(120, 2400)
    assert (wide.px_per_mm, wide.source) == (20.0, "field-width")


@pytest.mark.parametrize("value", [0, -3, math.nan, math.inf])
def test_numbers_that_are_no_scale_are_refused(value: float) -> None:
    with pytest.raises(ScaleError, match="px per mm must be a number above 0"):
        scale.from_typed(value)
    with pytest.raises(ScaleError, match="field width in mm must be a number above 0"):
        scale.from_field_width(value, 2400)


@pytest.mark.parametrize("value", [0.01, 4000])
def test_impossible_scales_are_refused_with_the_range(value: float) -> None:
    with pytest.raises(ScaleError, match=r"give a value from 0\.5 to 500"):
        scale.from_typed(value)


@pytest.mark.parametrize("value", [0.1, 100_000])
def test_impossible_widths_are_refused_with_the_range(value: float) -> None:
    with pytest.raises(ScaleError, match="give a width from 5 to 4800 mm"):
        scale.from_field_width(value, 2400)


VIEWS = {
    "square": View(),
    "turned": View(roll_deg=137, card_at_mm=(5, -25), blur_px=0),
    "tilted 5": View(tilt_deg=5, roll_deg=-4),
    "tilted 12": View(tilt_deg=12, tilt_towards_deg=100, focal_px=3000),
    "tilted 20": View(tilt_deg=20, tilt_towards_deg=-60, roll_deg=10, blur_px=2),
    "tilted 35": View(tilt_deg=35, tilt_towards_deg=10, card_at_mm=(-3, 10)),
    "blurred": View(tilt_deg=8, blur_px=3, px_per_mm=17),
    "noisy": View(tilt_deg=8, noise=0.03),
    "from afar": View(px_per_mm=5, tilt_deg=15, blur_px=0.8),
    "12 megapixels": View(width_px=4000, height_px=3000, px_per_mm=25, focal_px=3600, tilt_deg=10),
}


@pytest.mark.parametrize("name", VIEWS)
@pytest.mark.parametrize("focal_known", [True, False])
def test_card_gives_scale_and_tilt_of_known_cameras(name: str, focal_known: bool) -> None:
    view = VIEWS[name]
    assert view is not None
    # EXIF rounds the focal length to whole millimetres: up to 2 % of 26
    found = scale.from_card(as_photo(view.shoot(), focal_px=1.02 * view.focal_px if focal_known else None))
    assert found is not None
    # 0.5 % and 2 degrees are what is promised
    assert found.scale.px_per_mm == pytest.approx(view.true_scale(), rel=0.005)
    assert found.tilt_deg == pytest.approx(view.tilt_deg, abs=2)
    assert found.scale.source == "card"
    assert found.scale.tilt_deg == found.tilt_deg
    told = [warning for warning in found.warnings if warning.code == "tilted"]
    assert bool(told) == (found.tilt_deg > tuning.TILT_LIMIT_DEG)


@pytest.mark.parametrize("spread_mm", [0.025, 0.05, 0.1])
@pytest.mark.parametrize("tilt_deg", [0, 6, 15])
def test_ink_that_spreads_into_the_paper_changes_little(spread_mm: float, tilt_deg: int) -> None:
    width = 1 + 2 * round(spread_mm * TEXELS_PER_MM)
    printed = cv2.erode(card_texture(), np.ones((width, width)))
    view = View(tilt_deg=tilt_deg, card_at_mm=(0, 40))  # far from the middle, where a wrong tilt tells most
    found = scale.from_card(as_photo(view.shoot(printed)))
    assert found is not None
    assert found.scale.px_per_mm == pytest.approx(view.true_scale(), rel=0.005)
    assert found.tilt_deg == pytest.approx(tilt_deg, abs=2)


@pytest.mark.slow
def test_card_gives_scale_and_tilt_of_many_cameras() -> None:
    rng = np.random.default_rng(8)
    for _ in range(60):
        view = View(
            focal_px=rng.uniform(1700, 3800),
            px_per_mm=rng.uniform(8, 17),
            tilt_deg=rng.uniform(0, 35),
            tilt_towards_deg=rng.uniform(0, 360),
            roll_deg=rng.uniform(-20, 20),
            card_at_mm=(rng.uniform(-5, 5), rng.uniform(-25, 25)),
            blur_px=rng.uniform(0, 2.5),
            noise=rng.uniform(0.002, 0.02),
        )
        assert view is not None
        found = scale.from_card(as_photo(view.shoot(seed=int(rng.integers(1000)))))
        assert found is not None
        assert found.scale.px_per_mm == pytest.approx(view.true_scale(), rel=0.005)
        assert found.tilt_deg == pytest.approx(view.tilt_deg, abs=2)


def test_card_is_found_in_a_jpeg_that_stands_on_its_side() -> None:
    view = View(tilt_deg=6)
    data = saved(np.rot90(view.shoot()), "JPEG", exif=exif_block(orientation=6, t41989=32))
    found = scale.from_card(photo.load(data))
    assert found is not None
    assert found.scale.px_per_mm == pytest.approx(view.true_scale(), rel=0.005)


def test_polygon_covers_the_card_and_little_more() -> None:
    view = View(tilt_deg=15, roll_deg=20)
    found = scale.from_card(as_photo(view.shoot()))
    assert found is not None
    mask = np.zeros((1800, 2400), np.uint8)
    cv2.fillPoly(mask, [np.rint(found.polygon[:, ::-1]).astype(np.int32)], 1)
    truth = np.zeros_like(mask)
    outline = project(view.card_to_picture(), card.outline_mm())
    cv2.fillPoly(truth, [np.rint(outline).astype(np.int32)], 1)
    assert (mask[truth == 1] == 1).all()
    # 3 mm of margin on 110 x 31 mm: (116 x 37) / (110 x 31) = 1.26
    assert mask.sum() / truth.sum() == pytest.approx(1.26, abs=0.02)


@pytest.mark.parametrize(("numbers", "markers"), [((41,), 1), ((43, 44), 2)])
def test_few_markers_give_a_rough_scale_with_a_warning(numbers: tuple[int, ...], markers: int) -> None:
    view = View()
    found = scale.from_card(as_photo(view.shoot(card_texture(numbers))))
    assert found is not None
    assert found.scale.px_per_mm == pytest.approx(
        view.px_per_mm, rel=0.02
    )  # rough: one marker is 196 px wide
    assert Remark(code="scale-rough", values={"markers": markers}) in found.warnings


def test_no_card_is_none() -> None:
    rng = np.random.default_rng(3)
    noise = rng.integers(0, 255, (900, 1200, 3), dtype=np.uint8)
    squares = cv2.resize(rng.integers(0, 2, (30, 40), dtype=np.uint8) * 255, (1200, 900), interpolation=0)
    for picture in (gradient(), noise, np.repeat(squares[:, :, np.newaxis], 3, axis=2)):
        assert scale.from_card(as_photo(np.asarray(picture, np.uint8))) is None


def test_markers_of_other_prints_are_no_card() -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_50)
    picture = np.full((600, 900, 3), 230, np.uint8)
    for place, number in enumerate((0, 7, 39)):
        marker = cv2.aruco.generateImageMarker(dictionary, number, 140)
        picture[200:340, 100 + 250 * place : 240 + 250 * place] = marker[:, :, np.newaxis]
    assert scale.from_card(as_photo(np.asarray(picture, np.uint8))) is None


def test_markers_that_do_not_lie_on_one_flat_card_are_no_card() -> None:
    picture = View().shoot()
    left = picture[:, :1150].copy()
    picture[:, :1150] = np.roll(left, 80, axis=0)  # half the card moved by 6 mm
    assert scale.from_card(as_photo(np.asarray(picture, np.uint8))) is None


def test_typed_scale_goes_before_width_and_card() -> None:
    shot = as_photo(View().shoot())
    assert scale.resolve(shot, px_per_mm=14.2, field_width_mm=170).scale.source == "typed"
    assert scale.resolve(shot, field_width_mm=170).scale.source == "field-width"
    assert scale.resolve(shot).scale.source == "card"


def test_card_is_masked_under_a_typed_scale_too() -> None:
    resolved = scale.resolve(as_photo(View().shoot()), px_per_mm=14.2)
    assert resolved.card is not None
    assert resolved.card.shape == (4, 2)
    assert resolved.scale.px_per_mm == 14.2
    assert resolved.scale.tilt_deg is not None
    assert resolved.scale.tilt_deg < 2
    assert resolved.warnings == ()


# 14 px per mm on the card: 5 % away is 14.7
@pytest.mark.parametrize(("typed", "told"), [(14.6, False), (14.9, True), (13.4, False), (13.0, True)])
def test_disagreement_of_typed_scale_and_card_is_told(typed: float, told: bool) -> None:
    resolved = scale.resolve(as_photo(View().shoot()), px_per_mm=typed)
    assert ("scales-disagree" in {warning.code for warning in resolved.warnings}) is told


def test_unknown_scale_is_told() -> None:
    resolved = scale.resolve(as_photo(gradient()))
    assert (resolved.scale.source, resolved.scale.px_per_mm, resolved.card) == ("none", 1.0, None)
    assert not resolved.scale.calibrated
    assert resolved.warnings == (Remark(code="scale-unknown"),)


def test_given_scale_without_a_card_is_silent() -> None:
    resolved = scale.resolve(as_photo(gradient()), px_per_mm=5)
    assert (resolved.scale.px_per_mm, resolved.card, resolved.warnings) == (5.0, None, ())
