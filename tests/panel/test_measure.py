"""Whole photographs measured from their files: truth, laws, scales, cards, and what is refused."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from PIL import Image
from typer.testing import CliRunner

from defectmap import measure
from defectmap.commands.program import app
from defectmap.errors import PhotoError
from defectmap.panel import card
from defectmap.panel.finish import finish_score
from defectmap.panel.measurement import PanelMeasurement
from defectmap.panel.photo import photograph as photo
from defectmap.words.remark import Remark
from tests.cardshots import View, project
from tests.phantom import Panel, Shot, photograph, scratches, swirls
from tests.phantom.scene import Phantom
from tests.photofiles import png_chunk, saved
from tests.rendered import file_of, measured, phantom

FINE = Shot(px_per_mm=20.0, size_px=(1000, 1300))
COARSE = Shot()
NO_PEEL = Panel(orange_peel_rad=0.0)


@lru_cache(maxsize=4)
def seen(density: float, shot: Shot = FINE, *, seed: int = 5) -> Phantom:
    return photograph(swirls(seed, density_mm_per_cm2=density), shot)


def standard_mm(shown: Phantom, zone: NDArray[np.bool_]) -> float:
    """Length of the pieces of the standard inside a zone, from the phantom's truth."""
    total = 0.0
    for piece in shown.standard:
        middles = np.round((piece.points[1:] + piece.points[:-1]) / 2).astype(int)
        steps = np.hypot(*np.diff(piece.points, axis=0).T) / shown.shot.px_per_mm
        within: NDArray[np.bool_] = np.all((middles >= 0) & (middles < zone.shape), axis=1)
        within[within] = zone[tuple(middles[within].T)]
        total += float(steps[within].sum())
    return total


# --- against the truth ------------------------------------------------------------------


@pytest.mark.parametrize("density", [40.0, pytest.param(100.0, marks=pytest.mark.slow)])
def test_density_is_that_of_what_the_photograph_shows(density: float) -> None:
    shown = seen(density)
    result = measured(shown)
    # 12 %: the worst that a photograph may be off; one field of view holds some tens of marks.
    true = standard_mm(shown, result.zone) / result.area_cm2
    assert result.density.all == pytest.approx(true, rel=0.12)


def test_denser_swirls_give_more_density_and_a_lower_score() -> None:
    results = [measured(seen(density)) for density in (0.0, 40.0, 100.0)]
    densities, scores = [r.density.all for r in results], [r.score or 0.0 for r in results]
    assert densities == sorted(densities)
    assert scores == sorted(scores, reverse=True)
    assert densities[2] > 2 * densities[1] > 0


@pytest.mark.slow
@pytest.mark.parametrize("px_per_mm", [20.0, 10.0])
def test_density_does_not_saturate_on_a_dense_panel(px_per_mm: float) -> None:
    """200 mm/cm² of grooves."""
    size = (round(70 * px_per_mm), round(90 * px_per_mm))
    shown = seen(200.0, replace(FINE, px_per_mm=px_per_mm, size_px=size))
    result = measured(shown)
    true = standard_mm(shown, result.zone) / result.area_cm2
    assert result.density.all == pytest.approx(true, rel=0.12)


def test_parts_of_a_result_agree() -> None:
    result = measured(seen(40.0))
    assert result.zone.shape == (result.photo.height_px, result.photo.width_px)
    assert result.area_cm2 == pytest.approx(result.zone.sum() / 20.0**2 / 100)
    total = sum(mark.length_mm * mark.stands_for for mark in result.marks)
    assert result.density.all * result.area_cm2 == pytest.approx(total)
    assert sum(ring.length_mm for ring in result.rings) == pytest.approx(total)
    longest = [m.length_mm for m in result.marks if m.kind == "scratch"]
    assert result.longest_scratch_mm == max(longest, default=0.0)
    assert result.score == pytest.approx(
        finish_score(
            result.density,
            longest_scratch_mm=result.longest_scratch_mm,
            haze=result.haze,
            spots_per_cm2=len(result.spots) / result.area_cm2,
        )
    )
    limit = result.detection_limit
    assert min(mark.length_mm for mark in result.marks) >= 0.9 * limit.length_mm
    assert min(mark.contrast_to_noise for mark in result.marks) >= 0.9 * limit.contrast_to_noise
    assert 0 < limit.contrast < 1


# --- blank panels -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shot", "panel"),
    [
        pytest.param(FINE, Panel(), id="plain"),
        pytest.param(COARSE, NO_PEEL, id="10 px/mm without orange peel"),
        pytest.param(FINE, Panel(orange_peel_rad=0.003), id="heavy orange peel"),
        pytest.param(replace(FINE, iso=800.0), Panel(), id="noisy"),
        pytest.param(FINE, Panel(flake=1.0, body=(0.3, 0.3, 0.3)), id="silver flake"),
    ],
)
def test_a_blank_panel_has_no_marks_and_scores_100(shot: Shot, panel: Panel) -> None:
    result = measured(phantom("clean", shot, panel))
    assert result.marks == ()
    assert result.density.all == 0.0
    assert result.longest_scratch_mm == 0.0
    if not result.spots:
        assert result.score == 100.0


def test_a_blank_panel_stays_blank_as_a_strongly_compressed_jpeg() -> None:
    result = measure(file_of(phantom("clean", FINE).rgb, kind="JPEG", quality=60), px_per_mm=20.0)
    # 0.2 mm/cm² is what a clean panel may show.
    assert result.density.all <= 0.2


@pytest.mark.parametrize(
    "panel",
    [
        pytest.param(Panel(), id="usual"),
        pytest.param(Panel(orange_peel_rad=0.003), id="heavy", marks=pytest.mark.slow),
    ],
)
def test_orange_peel_at_ten_px_per_mm_is_no_mark(panel: Panel) -> None:
    assert measured(phantom("clean", COARSE, panel)).density.all <= 0.2


# --- laws -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def swirled() -> tuple[Phantom, PanelMeasurement]:
    """A rendered photograph and what is measured in it."""
    shown = phantom("swirled", COARSE)
    return shown, measured(shown)


@pytest.mark.parametrize(
    ("turn", "times"),
    [("quarter turn", 1), pytest.param("half turn", 2, marks=pytest.mark.slow), ("mirror", 0)],
)
def test_turning_or_mirroring_the_photograph_changes_nothing(
    swirled: tuple[Phantom, PanelMeasurement], turn: str, times: int
) -> None:
    shown, upright = swirled
    rgb = np.rot90(shown.rgb, times) if times else shown.rgb[:, ::-1]
    result = measure(file_of(rgb), px_per_mm=COARSE.px_per_mm)
    # 2 %: the coarse grids of light and texture start at the other edge, so single faint marks come or go.
    assert result.density.all == pytest.approx(upright.density.all, rel=0.02)
    # 0.2 %: a row or column of a block.
    assert result.area_cm2 == pytest.approx(upright.area_cm2, rel=2e-3)
    # 5 %: the rings of the halo lie on the coarse grid.
    assert result.haze == pytest.approx(upright.haze, rel=0.05)


def test_ten_percent_more_light_hardly_changes_the_density(swirled: tuple[Phantom, PanelMeasurement]) -> None:
    shown, usual = swirled
    brighter = measured(phantom("swirled", replace(shown.shot, ev=float(np.log2(1.1)))))
    # 5 %: contrast to noise grows by the root of the light, 5 %, and lifts the faintest marks over the limit.
    assert brighter.density.all == pytest.approx(usual.density.all, rel=0.05)


def test_another_grain_of_noise_hardly_changes_the_density(swirled: tuple[Phantom, PanelMeasurement]) -> None:
    shown, usual = swirled
    other = measured(phantom("swirled", replace(shown.shot, seed=9)))
    # 6 %: at 10 px per mm some marks stand just at the standard
    assert other.density.all == pytest.approx(usual.density.all, rel=0.06)


def test_clean_and_swirled_panels_are_measured_on_the_same_zone(
    swirled: tuple[Phantom, PanelMeasurement],
) -> None:
    _, usual = swirled
    clean = measured(phantom("clean", COARSE))
    # 0.5 %: nothing that the marks do may shrink or widen where they are counted.
    assert (clean.zone ^ usual.zone).sum() < 0.005 * usual.zone.sum()


@pytest.mark.slow
def test_densities_of_two_fields_add_up() -> None:
    fields = [swirls(seed, density_mm_per_cm2=20.0) for seed in (11, 12)]
    shot = replace(FINE, size_px=(1400, 1800))
    one, two, both = (
        measured(photograph(grooves, shot)).density.all for grooves in (*fields, [*fields[0], *fields[1]])
    )
    # 5 %: where marks cross, one may end a millimetre early.
    assert both == pytest.approx(one + two, rel=0.05)


@pytest.mark.slow
def test_polishing_the_scratches_out_leaves_the_swirls_alone() -> None:
    fine = swirls(11, density_mm_per_cm2=25.0)
    deep = scratches(13, count=3, width_mm=0.1, slope_rad=0.2)
    before, after = (measured(photograph(grooves, FINE)) for grooves in ([*fine, *deep], fine))
    rows = {len(m.points): m for m in after.marks}
    kept = [m for m in before.marks if len(m.points) in rows]
    # Most marks are untouched by scratches; theirs must be the same contrast to 1 %.
    assert len(kept) >= 0.7 * len(after.marks)
    same = [abs(m.contrast_to_noise / rows[len(m.points)].contrast_to_noise - 1) < 0.01 for m in kept]
    assert np.mean(same) > 0.7


# --- files ------------------------------------------------------------------------------

UNDO = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}


@pytest.mark.parametrize("orientation", [6, pytest.param(8, marks=pytest.mark.slow)])
def test_a_portrait_turned_by_exif_is_measured_upright(
    swirled: tuple[Phantom, PanelMeasurement], orientation: int
) -> None:
    shown, upright = swirled
    stored = np.asarray(Image.fromarray(shown.rgb).transpose(UNDO[orientation]))
    result = measure(file_of(stored, orientation=orientation), px_per_mm=COARSE.px_per_mm)
    height, width = shown.rgb.shape[:2]
    assert stored.shape[:2] == (width, height)
    assert (result.photo.height_px, result.photo.width_px) == (height, width)
    np.testing.assert_array_equal(result.zone, upright.zone)
    assert result.hotspot == upright.hotspot
    for one, two in zip(result.marks, upright.marks, strict=True):
        np.testing.assert_array_equal(one.points, two.points)


def test_file_bytes_path_and_loaded_photo_give_the_same(
    swirled: tuple[Phantom, PanelMeasurement], tmp_path: Path
) -> None:
    shown, usual = swirled
    data = file_of(shown.rgb, iso=round(shown.shot.iso))
    path = tmp_path / "door.png"
    path.write_bytes(data)
    for source in (path, photo.load(data, name="door.png")):
        result = measure(source, px_per_mm=COARSE.px_per_mm)
        assert result.photo.name == "door.png"
        assert result.density == usual.density


def test_a_tag_that_the_picture_contradicts_changes_nothing_and_is_said() -> None:
    rgb = photograph(swirls(5, density_mm_per_cm2=60.0), COARSE).rgb
    right, wrong = (measure(file_of(rgb, iso=iso), px_per_mm=COARSE.px_per_mm) for iso in (100, 51200))
    assert wrong.density.all == pytest.approx(right.density.all, rel=0.05)
    assert Remark(code="iso-contradicted", values={"iso": 51200.0}) in wrong.warnings
    assert "iso-contradicted" not in {warning.code for warning in right.warnings}


def test_a_file_that_tells_no_iso_is_judged_by_its_own_grain() -> None:
    shot = replace(COARSE, iso=400.0)
    rgb = photograph(swirls(5, density_mm_per_cm2=60.0), shot).rgb
    told, untold, wrong = (
        measure(file_of(rgb, iso=iso), px_per_mm=COARSE.px_per_mm) for iso in (400, None, 100)
    )
    # 5 %: the grain is read from the picture, whatever a tag says
    assert untold.density.all == pytest.approx(told.density.all, rel=0.05)
    assert wrong.density.all == pytest.approx(told.density.all, rel=0.05)
    assert any(warning.code.startswith("iso-untold") for warning in untold.warnings)
    assert not any(warning.code.startswith("iso-untold") for warning in told.warnings)


def test_field_width_is_another_way_to_give_the_scale(swirled: tuple[Phantom, PanelMeasurement]) -> None:
    shown, usual = swirled
    result = measure(file_of(shown.rgb), field_width_mm=shown.rgb.shape[1] / COARSE.px_per_mm)
    assert result.scale.source == "field-width"
    assert result.density.all == pytest.approx(usual.density.all)


def test_without_a_scale_lengths_are_pixels_and_it_is_said(swirled: tuple[Phantom, PanelMeasurement]) -> None:
    shown, _ = swirled
    result = measure(file_of(shown.rgb))
    assert (result.scale.px_per_mm, result.scale.source, result.scale.calibrated) == (1.0, "none", False)
    assert Remark(code="scale-unknown") in result.warnings
    for mark in result.marks:
        steps = np.hypot(*np.diff(mark.points, axis=0).T)
        assert mark.length_mm == pytest.approx(steps.sum())
    assert result.area_cm2 == pytest.approx(result.zone.sum() / 100)


def test_a_scale_changes_lengths_in_proportion(swirled: tuple[Phantom, PanelMeasurement]) -> None:
    shown, usual = swirled
    other = measure(file_of(shown.rgb), px_per_mm=1.1 * COARSE.px_per_mm)
    assert other.area_cm2 == pytest.approx(usual.area_cm2 / 1.1**2)
    # longer by 1.1 for each area, less what is weaker by 1.1 in µm and falls below the standard
    assert usual.density.all < other.density.all < 1.1 * usual.density.all
    assert other.strength[50] == pytest.approx(1.1 * usual.strength[50], rel=0.1)


# --- the card ---------------------------------------------------------------------------

CARD_SHOT = Shot(px_per_mm=14.0, size_px=(1260, 1680), lamp_mm=(-22.0, -25.0, 480.0))


@lru_cache(maxsize=2)
def with_card(*, gain: float = 1.0) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """A swirled panel with the printed card on it; the card's mask."""
    shown = phantom("swirled", CARD_SHOT)
    height, width = CARD_SHOT.size_px
    view = View(width_px=width, height_px=height, px_per_mm=14.0, card_at_mm=(0.0, 24.0))
    across, down = card.CARD_MM
    corners = project(
        view.card_to_picture(), np.array([(0, 0), (across, 0), (across, down), (0, down)], float)
    )
    mask = cv2.fillPoly(np.zeros((height, width), np.uint8), [np.round(corners).astype(np.int32)], 1) > 0
    paper = np.clip(view.shoot().astype(float) * gain, 0, 255).astype(np.uint8)
    return np.where(mask[..., None], paper, shown.rgb), mask


@lru_cache(maxsize=1)
def measured_with_card() -> PanelMeasurement:
    rgb, _ = with_card()
    return measure(file_of(rgb))


def test_the_card_gives_the_scale_and_is_not_measured() -> None:
    _, mask = with_card()
    result = measured_with_card()
    assert result.scale.source == "card"
    # 0.5 %: corners to a tenth of a pixel on a card of 1500 px.
    assert result.scale.px_per_mm == pytest.approx(14.0, rel=0.005)
    assert not (result.zone & mask).any()
    for mark in result.marks:
        places = np.round(mark.points).astype(int)
        assert not mask[places[:, 0], places[:, 1]].any()


def test_the_card_does_not_move_hotspot_or_density() -> None:
    plain, carded = measured(phantom("swirled", CARD_SHOT)), measured_with_card()
    one, two = plain.hotspot, carded.hotspot
    assert np.hypot(one.row - two.row, one.column - two.column) < 0.05 * one.radius_px
    rest = carded.zone & plain.zone
    length = 0.0
    for mark in plain.marks:
        places = np.round(mark.points[1:]).astype(int)
        length += float(np.hypot(*np.diff(mark.points, axis=0).T)[rest[tuple(places.T)]].sum()) / 14.0
    # 5 %: marks that run under the card end there.
    assert carded.density.all == pytest.approx(length / carded.area_cm2, rel=0.05)


def test_the_card_is_not_haze() -> None:
    plain, carded = measured(phantom("swirled", CARD_SHOT)), measured_with_card()
    # 3 %: rings are read where they are paint.
    assert carded.haze == pytest.approx(plain.haze, rel=0.03)


def test_a_burnt_card_is_not_taken_for_the_lamp() -> None:
    rgb, mask = with_card(gain=1.3)
    result = measure(file_of(rgb))
    assert result.scale.source == "card"
    true = phantom("swirled", CARD_SHOT).hotspot
    assert (
        np.hypot(result.hotspot.row - true.row, result.hotspot.column - true.column) < 0.05 * true.radius_px
    )
    assert not (result.zone & mask).any()


# --- size -------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_photograph_of_48_megapixels_is_measured() -> None:
    shown = phantom("swirled", Shot(px_per_mm=54.0, size_px=(3000, 4000)))
    large = np.asarray(cv2.resize(shown.rgb, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC), np.uint8)
    result = measure(file_of(large, kind="JPEG"), px_per_mm=2 * 54.0)
    small = measured(shown)
    assert result.zone.shape == (6000, 8000)
    assert result.area_cm2 == pytest.approx(small.area_cm2, rel=0.02)
    # 15 %: enlarging smooths the noise, so other faint marks pass the limit.
    assert result.density.all == pytest.approx(small.density.all, rel=0.15)


# --- odd files --------------------------------------------------------------------------

HUGE_PNG = (
    b"\x89PNG\r\n\x1a\n"
    + png_chunk(b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0))
    + png_chunk(b"IDAT", zlib.compress(b"\0" * 100))
    + png_chunk(b"IEND", b"")
)


def sound() -> bytes:
    return file_of(phantom("swirled", COARSE).rgb, kind="JPEG")


def lampless(name: str) -> bytes:
    picture = cv2.resize(getattr(skimage.data, name)(), None, fx=2, fy=2)
    return file_of(picture, kind="JPEG")


def shot(**changes: Any) -> bytes:
    return file_of(phantom("clean", replace(COARSE, **changes)).rgb, kind="JPEG")


NOT_READ = "not a picture that can be read; save it as"
CUT_FILE = "ends before its picture does; copy it"
NO_LAMP = "No reflection of a lamp was found"
ODD_FILES: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty.jpg": (lambda: b"", "is empty; copy it"),
    "poem.jpg": (lambda: b"Not a picture at all. " * 40, NOT_READ),
    "half.jpg": (lambda: sound()[:40_000], CUT_FILE),
    "head.jpg": (lambda: sound()[:300], CUT_FILE),
    "half.png": (lambda: file_of(phantom("swirled", COARSE).rgb)[:200_000], CUT_FILE),
    "letter.pdf": (lambda: b"%PDF-1.7\n" + b"x" * 2000, NOT_READ),
    "clip.mp4": (lambda: b"\0\0\0\x18ftypmp42" + b"\0" * 500, "is cut off: it ends before its index"),
    "drawing.svg": (lambda: b'<svg xmlns="http://www.w3.org/2000/svg"/>', NOT_READ),
    "packed.png": (lambda: b"PK\3\4" + b"\0" * 500, NOT_READ),
    "raw.NEF": (lambda: b"II*\0" + b"\0" * 800, "is a raw camera file; export it"),
    "moving.gif": (lambda: saved(np.zeros((500, 500, 3), np.uint8), "GIF"), NOT_READ),
    "thumbnail.jpg": (lambda: saved(np.zeros((100, 120, 3), np.uint8), "JPEG"), "too few to measure"),
    "bomb.png": (lambda: HUGE_PNG, "3600 megapixels, more than the limit"),
    "grass.jpg": (lambda: lampless("grass"), NO_LAMP),
    "astronaut.jpg": (lambda: lampless("astronaut"), NO_LAMP),
    "night.jpg": (lambda: shot(ev=-6.0), "too dark"),
    "noon.jpg": (lambda: shot(ev=6.0), "overexposed"),
    "edge.jpg": (lambda: shot(lamp_mm=(-60.0, 6.0, 480.0)), "cut by the frame"),
    "white.jpg": (lambda: file_of(np.full((600, 800, 3), 255, np.uint8), kind="JPEG"), "overexposed"),
    "grey.jpg": (lambda: file_of(np.full((600, 800, 3), 118, np.uint8), kind="JPEG"), "too dark"),
}


@pytest.mark.parametrize("name", ODD_FILES)
def test_oddfiles_are_refused_with_the_right_reason_and_status_3(name: str, tmp_path: Path) -> None:
    make, reason = ODD_FILES[name]
    file, answer = tmp_path / name, tmp_path / "answer.json"
    file.write_bytes(make())
    result = CliRunner().invoke(app, ["measure", str(file), "--px-per-mm", "10", "--json", str(answer)])
    record = json.loads(answer.read_text())
    assert result.exit_code == 3
    assert reason in record["refused"]
    assert name in record["refused"]
    assert "marks" not in record
    assert "Traceback" not in result.output


def test_a_refusal_in_the_api_is_a_photo_error_with_status_3() -> None:
    with pytest.raises(PhotoError, match=r"night\.jpg is too dark") as caught:
        measure(ODD_FILES["night.jpg"][0](), name="night.jpg")
    assert caught.value.exit_code == 3


def test_without_a_scale_the_shortest_mark_is_told_in_pixels() -> None:
    result = measure(file_of(phantom("swirled", FINE).rgb))
    assert result.scale.source == "none"
    # 1 mm of a typical photograph, 20 px/mm.
    assert result.detection_limit.length_mm == 20.0
