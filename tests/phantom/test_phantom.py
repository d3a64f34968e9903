"""The analytic photograph against optics, stereology and line theory worked out another way."""

from __future__ import annotations

import io
import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy import integrate, ndimage, optimize

from tests.phantom import (
    Groove,
    Line,
    Panel,
    Shot,
    arc,
    lines_on_flat,
    photograph,
    poisson_lines,
    polished,
    ring,
    scratches,
    straight,
    swirls,
    trails,
    write,
)
from tests.phantom.camera import encode_8bit, noise_sd, srgb_encode
from tests.phantom.flat import hits
from tests.phantom.lamp import lobe_share
from tests.phantom.scene import Phantom
from tests.phantom.view import View

SMOOTH = Panel(orange_peel_rad=0.0)
SMALL = Shot(size_px=(240, 320), px_per_mm=4.0, jpeg_quality=None)


def view_of(shot: Shot) -> View:
    return View(
        size_px=shot.size_px, px_per_mm=shot.px_per_mm, offset_mm=shot.offset_mm, turn_deg=shot.turn_deg
    )


def across_radius_deg(phantom: Phantom) -> tuple[np.ndarray, np.ndarray]:
    """Angle between each visible step and the direction of the hotspot, and the step's length in mm."""
    angles, lengths = [], []
    for piece in phantom.visible:
        step = np.diff(piece.points, axis=0)
        out = (piece.points[1:] + piece.points[:-1]) / 2 - [phantom.hotspot.row, phantom.hotspot.column]
        size = np.linalg.norm(step, axis=1)
        cos = np.abs((step * out).sum(axis=1)) / size / np.linalg.norm(out, axis=1)
        angles.append(np.degrees(np.arccos(np.clip(cos, 0, 1))))
        lengths.append(size / phantom.shot.px_per_mm)
    return np.concatenate(angles), np.concatenate(lengths)


# --- light ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "shot",
    [
        Shot(),
        Shot(lamp_mm=(20.0, -35.0, 300.0), camera_height_mm=700.0, turn_deg=12.0),
        Shot(lamp_mm=(-5.0, 9.0, 480.0), offset_mm=(-4.0, 4.0), turn_deg=-1.5),
    ],
)
def test_hotspot_is_where_the_light_takes_the_shortest_way(shot: Shot) -> None:
    """Fermat's principle (Heron): the mirror point makes lamp-panel-camera the shortest path."""
    lamp, eye = np.array(shot.lamp_mm), np.array([*shot.offset_mm, shot.camera_height_mm])

    def path(place: NDArray[np.float64]) -> float:
        at = np.array([*place, 0.0])
        return float(np.linalg.norm(lamp - at) + np.linalg.norm(eye - at))

    best = optimize.minimize(path, shot.offset_mm, method="BFGS", options={"gtol": 1e-10}).x
    found = photograph((), replace(shot, size_px=(64, 64), px_per_mm=0.5)).hotspot
    view = view_of(replace(shot, size_px=(64, 64), px_per_mm=0.5))
    row, column = view.to_px(best[:1], best[1:])
    # The path is 900 mm and flat at its shortest: numerical minimisation finds the place to some 1e-3 mm.
    assert (found.row, found.column) == pytest.approx((row[0], column[0]), abs=2e-3)


def test_hotspot_of_a_bent_panel_obeys_the_law_of_reflection() -> None:
    shot = Shot(turn_deg=5.0, lamp_mm=(-8.0, 40.0, 480.0))
    hotspot = photograph((), shot, panel=Panel(curve_mm=900.0)).hotspot
    view = view_of(shot)
    row, column = (float(x[0]) for x in view.to_mm(np.array([hotspot.row]), np.array([hotspot.column])))
    normal = np.array([0.0, column / 900.0, 1.0])
    normal /= np.linalg.norm(normal)
    here = np.array([row, column, 0.0])
    to_eye = np.array([*shot.offset_mm, shot.camera_height_mm]) - here
    to_lamp = np.array(shot.lamp_mm) - here
    mirrored = 2 * normal * (normal @ to_eye) - to_eye
    sin = np.linalg.norm(np.cross(mirrored, to_lamp)) / np.linalg.norm(mirrored) / np.linalg.norm(to_lamp)
    assert sin < 1e-7  # the solver stops at 1e-10 mm in 480 mm; the rest is rounding


@pytest.mark.parametrize("offset", [0.0, 0.008, 0.02, 0.06])
def test_lobe_through_a_disc_equals_the_integral(offset: float) -> None:
    """GGX over slopes, alpha^2 / (pi (alpha^2 + x^2)^2), summed numerically over the disc."""
    alpha, disc = 0.01, 0.0115

    def density(turn: float, radius: float) -> float:
        x2 = offset**2 + radius**2 - 2 * offset * radius * math.cos(turn)
        return radius * alpha**2 / (math.pi * (alpha**2 + x2) ** 2)

    whole, error = integrate.dblquad(density, 0, disc, 0, 2 * math.pi, epsabs=1e-10)
    got = float(lobe_share(np.array(offset**2), disc=disc, alpha=alpha))
    assert got == pytest.approx(whole, abs=max(10 * error, 1e-9))


def test_halo_falls_off_monotonically_from_the_mirror_point() -> None:
    phantom = photograph((), replace(SMALL, ev=-4.0), panel=SMOOTH)
    assert phantom.clean.max() < 1  # nothing clipped, so the peak is the lobe's own
    rows, columns = np.indices(phantom.clean.shape)
    away = np.hypot(rows - phantom.hotspot.row, columns - phantom.hotspot.column)
    rings = np.array([phantom.clean[(away >= r) & (away < r + 2)].mean() for r in range(0, 100, 2)])
    assert (np.diff(rings) < 0).all()
    peak = ndimage.center_of_mass(np.where(phantom.clean > 0.9 * phantom.clean.max(), 1, 0))
    # Pixels above 90 % are a disc of some 15 px radius; its centre is known to a fraction of one.
    assert peak == pytest.approx((phantom.hotspot.row, phantom.hotspot.column), abs=0.3)


def test_haze_spreads_the_halo_and_lowers_its_middle() -> None:
    sharp, hazy = (photograph((), replace(SMALL, ev=-4.0), panel=Panel(alpha=a)).clean for a in (0.01, 0.022))
    assert hazy.max() < sharp.max()
    assert np.median(hazy) > np.median(sharp)


def test_visible_pieces_lie_across_the_direction_of_the_hotspot() -> None:
    """Bosch et al. 2004; Raymond et al. 2016: only grooves about normal to the half vector glint."""
    grooves = swirls(3, density_mm_per_cm2=60.0, radius_mm=1e4)  # straight, so isotropic at every place
    angles, lengths = across_radius_deg(photograph(grooves, panel=SMOOTH))
    share, _ = np.histogram(angles, bins=[0, 30, 60, 90], weights=lengths)
    share /= lengths.sum()
    # An isotropic field without glint geometry would put one third into each bin.
    assert share[2] > 0.6
    assert share[0] < 0.2
    assert np.average(angles, weights=lengths) > 60


def test_radial_groove_is_dark_in_the_halo_and_tangential_groove_is_bright() -> None:
    lines = {"radial": straight((-4.0, 17.0), angle_deg=0, length_px=10.0)}
    lines["tangential"] = straight((-4.0, 17.0), angle_deg=90, length_px=10.0)
    for name, points in lines.items():
        groove = Groove(points=points, width_mm=0.06, slope_rad=0.08, kind="scratch")
        pieces = photograph([groove], panel=SMOOTH).visible
        assert {p.polarity for p in pieces} == {"dark" if name == "radial" else "bright"}


# --- drawing ----------------------------------------------------------------------------


def added_light(points: np.ndarray, *, width_mm: float, shot: Shot) -> np.ndarray:
    groove = Groove(points=points, width_mm=width_mm, slope_rad=0.08, kind="scratch")
    with_it, without = (photograph(g, shot, panel=SMOOTH).clean for g in ([groove], []))
    return np.asarray(with_it, np.float64) - without


@pytest.mark.parametrize("width_mm", [0.01, 0.05, 0.2])  # 0.1, 0.5 and 2 px
def test_light_of_a_groove_does_not_depend_on_how_it_falls_on_the_pixels(width_mm: float) -> None:
    points = straight((-4.0, 22.0), angle_deg=90, length_px=8.0)
    shot = Shot(size_px=(520, 520), jpeg_quality=None)
    totals = np.array(
        [
            [
                added_light(
                    points, width_mm=width_mm, shot=replace(shot, turn_deg=turn, offset_mm=(shift, shift))
                ).sum()
                for turn in (0.0, 10.0, 45.0, 67.5)  # the camera turns, the light stays
            ]
            for shift in (0.0, 0.023, 0.05)  # up to a pixel
        ]
    )
    # Single precision over some thousand pixels.
    assert np.abs(totals / totals[:, :1] - 1).max() < 1e-4
    # Moving the camera by 0.05 mm moves the hotspot by half as much, which changes the light by 0.3 % here.
    assert np.abs(totals / totals.mean() - 1).max() < 0.005


@pytest.mark.parametrize("turn_deg", [0.0, 10.0, 22.5, 45.0])
def test_a_groove_has_no_beads(turn_deg: float) -> None:
    points = straight((-4.0, 22.0), angle_deg=90, length_px=8.0)
    shot = Shot(size_px=(520, 520), jpeg_quality=None, turn_deg=turn_deg)
    light = added_light(points, width_mm=0.03, shot=shot)
    places = np.indices(light.shape).astype(np.float64)
    row_mm, column_mm = view_of(shot).to_mm(places[0, :, :], places[1, :, :])
    near = (np.abs(row_mm + 4.0) < 2.5) & (np.abs(column_mm - 22.0) < 0.4)
    along, away_px = (row_mm[near] + 4.0) / 2.5, (column_mm[near] - 22.0) * shot.px_per_mm
    # Every pixel must be a Gaussian of its distance times a brightness that runs smoothly along the line.
    variance = 0.3**2 / 12 + 1 / 12 + shot.blur_px**2
    design = np.exp(-(away_px**2) / (2 * variance))[:, None] * along[:, None] ** np.arange(4)
    weights, *_ = np.linalg.lstsq(design, light[near], rcond=None)
    rest = light[near] - design @ weights
    # 3 %: the drawn profile is within 2 to 3 % of a Gaussian, on its flanks, the same all along the line.
    assert np.abs(rest).max() < 0.03 * light[near].max()
    # Beads would be a pattern along the ridge itself.
    ridge = np.abs(away_px) < 0.6
    assert rest[ridge].std() < 0.01 * light[near].max()


def test_width_of_the_drawn_line_is_groove_pixel_and_blur_together() -> None:
    points = straight((-4.0, 22.0), angle_deg=90, length_px=12.0)
    shot = Shot(size_px=(400, 560), jpeg_quality=None, blur_px=0.9)
    light = added_light(points, width_mm=0.05, shot=shot)
    profile = light[150:170].sum(axis=0)
    x = np.arange(len(profile))
    middle = np.average(x, weights=profile)
    variance = np.average((x - middle) ** 2, weights=profile)
    # Box of 0.5 px, square pixel, Gaussian of 0.9 px. 1 %: the light is not even across the picture.
    assert variance == pytest.approx(0.5**2 / 12 + 1 / 12 + 0.9**2, rel=0.01)


def test_contrast_in_the_truth_is_the_contrast_in_the_picture() -> None:
    # Square to the hotspot's direction the light hardly changes along the line. Turning the camera by 7
    # degrees makes the line pass through the middles of some pixels: the brightest is its peak.
    points = straight((-3.87, 22.0), angle_deg=90, length_px=3.0)
    shot = Shot(size_px=(400, 560), jpeg_quality=None, turn_deg=7.0)
    blank = photograph([], shot, panel=SMOOTH)
    for width_mm in (0.01, 0.02, 0.08, 0.2):
        groove = Groove(points=points, width_mm=width_mm, slope_rad=0.08, kind="scratch")
        phantom = photograph([groove], shot, panel=SMOOTH)
        (piece,) = phantom.visible
        row, column = np.rint(piece.points[len(piece.points) // 2]).astype(int)
        light = (phantom.clean - blank.clean)[row - 8 : row + 9, column - 4 : column + 5]
        expected = light.max() / noise_sd(blank.clean[row, column], 100)
        # 3 %: the drawn profile is within 2 % of the ideal one, and wide grooves are drawn as strips.
        assert piece.cnr == pytest.approx(float(expected), rel=0.03)


def test_crossing_grooves_stay_between_their_lights() -> None:
    cross = [
        Groove(
            points=straight((-4.0, 17.0), angle_deg=a, length_px=6.0),
            width_mm=0.3,
            slope_rad=s,
            kind="scratch",
        )
        for a, s in ((0, 0.2), (30, 0.3), (60, 0.3))
    ]
    clean = photograph(cross, panel=SMOOTH).clean
    blank = photograph([], panel=SMOOTH).clean
    assert clean.min() > 0
    alone = [photograph([g], panel=SMOOTH).clean for g in cross]
    # A pixel shared by grooves is a mean of their lights; blur and weights overshoot by 2 % at most.
    assert (clean <= np.maximum(np.max(alone, axis=0), blank) * 1.02).all()


# --- truth ------------------------------------------------------------------------------


def test_visible_length_grows_with_density_and_adds_up() -> None:
    fields = [swirls(s, density_mm_per_cm2=15.0) for s in range(3)]
    single = [photograph(f, SMALL).visible_mm for f in fields]
    together = [photograph(sum(fields[: k + 1], ()), SMALL).visible_mm for k in range(3)]
    assert together[0] < together[1] < together[2]
    # Each groove is judged alone, so the truth is exactly additive.
    assert together[2] == pytest.approx(sum(single), rel=1e-9)


def test_noise_hides_faint_pieces() -> None:
    grooves = swirls(1, density_mm_per_cm2=40.0)
    seen = [photograph(grooves, replace(SMALL, iso=iso)).visible_mm for iso in (100, 400, 1600)]
    assert seen[0] > seen[1] > seen[2] > 0


def test_lengths_in_frame_and_of_the_whole_panel() -> None:
    inside = Groove(points=np.array([[0.0, -5.0], [0.0, 5.0]]), width_mm=0.03, slope_rad=0.05, kind="swirl")
    half = Groove(
        points=np.array([[10.0, 30.0], [10.0, 50.0]]), width_mm=0.03, slope_rad=0.05, kind="scratch"
    )
    phantom = photograph([inside, half], SMALL)
    assert phantom.groove_mm == pytest.approx({"swirl": 10.0, "scratch": 20.0})
    # The picture ends 40 mm from its middle; one sample is 0.15 mm.
    assert phantom.groove_in_frame_mm == pytest.approx({"swirl": 10.0, "scratch": 10.0}, abs=0.16)


def test_tape_hides_marks_and_drops_are_no_marks() -> None:
    grooves = swirls(5, density_mm_per_cm2=40.0)
    plain = photograph(grooves, panel=Panel())
    taped = photograph(grooves, panel=Panel(obstacles=("tape",), water_spots=6))
    # The tape's edge runs from row 651 on the left to 672 on the right.
    low = [p for p in plain.visible if p.points[:, 0].max() > 675]
    assert low
    assert not [p for p in taped.visible if p.points[:, 0].max() > 675]
    assert {p.kind for p in taped.visible} == {"swirl"}
    assert {s.kind for s in taped.spots} <= {"water spot"}


def test_swirl_field_has_the_density_asked_for() -> None:
    panel_mm = (50.0, 80.0)
    total = math.fsum(g.length_mm for g in swirls(2, density_mm_per_cm2=12.5, panel_mm=panel_mm))
    # 40 cm2; chords of 0.5 mm are shorter than their arcs by less than 1 part in 1000.
    assert total == pytest.approx(12.5 * 40, rel=1e-3)
    assert swirls(2, density_mm_per_cm2=0.0) == ()


def test_polishing_takes_the_share_asked_for_and_leaves_scratches() -> None:
    before = swirls(2, density_mm_per_cm2=40.0) + scratches(2, count=5) + trails(2, density_mm_per_cm2=1.0)
    after = polished(before, seed=1, keep_share=0.3)
    fine = [sum(g.kind != "scratch" for g in field) for field in (before, after)]
    # Binomial: 4 standard deviations.
    assert fine[1] == pytest.approx(0.3 * fine[0], abs=4 * math.sqrt(0.21 * fine[0]))
    assert sum(g.kind == "scratch" for g in after) == 5


# --- camera -----------------------------------------------------------------------------


def test_same_seed_same_picture_other_seed_other_noise() -> None:
    grooves = swirls(1, density_mm_per_cm2=20.0)
    one, two = (photograph(grooves, replace(SMALL, dust=4)) for _ in range(2))
    other = photograph(grooves, replace(SMALL, seed=1))
    assert np.array_equal(one.rgb, two.rgb)
    assert one.visible_mm == two.visible_mm
    assert not np.array_equal(one.luminance, other.luminance)


@pytest.mark.parametrize("iso", [100, 1600])
def test_noise_variance_is_linear_in_light(iso: int) -> None:
    """Photon transfer, as in EMVA standard 1288 (from memory): read variance plus a share of the signal."""
    phantom = photograph((), Shot(iso=iso, ev=1.0))
    k2, r2 = 0.0135**2 * iso / 100, 5e-4**2
    away = phantom.clean - 6 * np.sqrt(k2 * phantom.clean + r2)
    use = (away > 0) & (phantom.clean + 6 * np.sqrt(k2 * phantom.clean + r2) < 1)  # nothing clipped
    z2 = (phantom.luminance - phantom.clean)[use].astype(np.float64) ** 2 / (k2 * phantom.clean[use] + r2)
    assert z2.mean() == pytest.approx(1, abs=5 * math.sqrt(2 / use.sum()))
    bright = phantom.clean[use] > np.median(phantom.clean[use])
    for part in (z2[bright], z2[~bright]):
        assert part.mean() == pytest.approx(1, abs=5 * math.sqrt(2 / len(part)))


def test_grain_is_a_share_of_the_coats_light_and_no_part_of_the_truth() -> None:
    shot = Shot(grain=0.25, jpeg_quality=None)
    phantom, plain = (
        photograph((), shot, panel=SMOOTH),
        photograph((), replace(shot, grain=0.0), panel=SMOOTH),
    )
    assert np.array_equal(phantom.clean, plain.clean)
    use = (plain.clean > 0.1) & (plain.clean < 0.4)
    share = (phantom.luminance - plain.luminance)[use] / plain.clean[use]
    # White noise through a Gaussian of SD s in two dimensions keeps 1 / (2 sqrt(pi) s) of its SD.
    blur = math.sqrt(0.75**2 + 1 / 12 - 0.25)
    # 10 %: the finishing kernel is not quite a Gaussian, and veil and body are not speckled.
    assert share.std() == pytest.approx(0.25 / (2 * math.sqrt(math.pi) * blur), rel=0.1)


def test_srgb_curve_against_published_values() -> None:
    """IEC 61966-2-1; 0.18 -> 0.4613561 is printed in the documentation of colour-science."""
    assert float(srgb_encode(np.array(0.18))) == pytest.approx(0.4613561, abs=5e-8)
    decoded = {10: 0.00303527, 11: 0.00334654, 50: 0.0318960, 128: 0.2158605, 188: 0.5028865, 200: 0.5775804}
    assert encode_8bit(np.array(list(decoded.values()))).tolist() == list(decoded)
    # Our own codes back through the standard's decoding formula.
    codes = np.arange(256) / 255
    linear = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    assert encode_8bit(linear).tolist() == list(range(256))


def test_exposure_scales_the_light_and_clips_at_one() -> None:
    dark, bright = (photograph((), replace(SMALL, ev=e), panel=SMOOTH).clean for e in (-2.0, 0.0))
    free = bright < 1
    assert bright.max() == 1
    np.testing.assert_allclose(dark[free] * 4, bright[free], rtol=1e-5)


def test_jpeg_can_be_read_and_says_how_it_was_taken() -> None:
    shot = replace(SMALL, jpeg_quality=92, iso=800, taken="2026:05:04 10:11:12")
    phantom = photograph(swirls(1, density_mm_per_cm2=20.0), shot)
    assert phantom.jpeg is not None
    image = Image.open(io.BytesIO(phantom.jpeg))
    facts = image.getexif().get_ifd(0x8769)
    assert facts[0x8827] == 800  # ISOSpeedRatings, EXIF 2.x
    assert facts[0x9003] == "2026:05:04 10:11:12"
    assert float(facts[0x829A]) == pytest.approx(1 / 60 / 8, rel=1e-3)
    # Quality 92 moves codes by a few steps; noise at ISO 800 is up to 10 codes.
    assert np.abs(np.asarray(image, float) - phantom.rgb).mean() < 6
    assert photograph((), SMALL).jpeg is None


def test_files_hold_the_picture_and_its_truth(tmp_path: Path) -> None:
    phantom = photograph(swirls(1, density_mm_per_cm2=20.0), replace(SMALL, jpeg_quality=90, dust=2))
    picture = write(phantom, tmp_path, name="one")
    truth = json.loads((tmp_path / "one.truth.json").read_text())
    with Image.open(picture) as image:
        assert image.size == (truth["width_px"], truth["height_px"]) == (320, 240)
    assert truth["hotspot"]["x"] == pytest.approx(phantom.hotspot.column, abs=1e-3)
    assert sum(truth["visible_mm"].values()) == pytest.approx(phantom.visible_mm)
    assert truth["visible"][0]["points"][0] == pytest.approx(phantom.visible[0].points[0, ::-1], abs=0.01)
    with pytest.raises(ValueError, match="jpeg_quality"):
        write(photograph((), SMALL), tmp_path, name="two")


def test_sharpening_raises_detail_and_keeps_the_mean() -> None:
    grooves = swirls(1, density_mm_per_cm2=40.0)
    plain, crisp = (photograph(grooves, replace(SMALL, sharpen=a)).rgb.astype(float) for a in (0.0, 0.8))
    assert np.diff(crisp, axis=0).std() > 1.2 * np.diff(plain, axis=0).std()
    # Clipping at black and white and rounding are all that can move the mean.
    assert crisp.mean() == pytest.approx(plain.mean(), abs=0.5)


def test_dust_is_where_the_truth_says() -> None:
    shot = replace(SMALL, dust=10, ev=1.0)
    phantom, blank = photograph((), shot), photograph((), replace(shot, dust=0))
    change = np.abs(phantom.clean - blank.clean)
    assert len(phantom.spots) == 10
    for spot in phantom.spots:
        r, c = round(spot.row), round(spot.column)
        if blank.clean[r, c] < 0.05:  # elsewhere a speck may be as bright as the halo
            assert change[max(r - 1, 0) : r + 2, max(c - 1, 0) : c + 2].max() > 0.002


def test_more_lamps_and_lights() -> None:
    one, seven = (photograph((), replace(SMALL, ev=-4.0, lamps=n), panel=SMOOTH) for n in (1, 7))
    assert seven.hotspot.lamps == 7
    assert (seven.hotspot.row, seven.hotspot.column) == (one.hotspot.row, one.hotspot.column)
    # A cluster is built with 0.7 of the flux; far from it only the flux counts.
    assert seven.clean[0, 0] / one.clean[0, 0] == pytest.approx(0.7, abs=0.05)
    second = photograph((), replace(SMALL, second_lamp_mm=(60.0, -60.0, 480.0)), panel=SMOOTH)
    assert second.clean[200, 40] > 5 * photograph((), SMALL, panel=SMOOTH).clean[200, 40]


# --- plain lines ------------------------------------------------------------------------


def test_scale_space_of_a_gaussian_line_peaks_as_lindeberg_found() -> None:
    """Lindeberg 1998, IJCV 30:117: sigma^2 |r''| of a line of SD s peaks at sqrt(2) s, 2 A / (3 sqrt 3)."""
    s, amplitude = 2.0, 0.1
    line = Line(points=straight((50.0, 50.0), angle_deg=0, length_px=300), amplitude=amplitude, width_px=s)
    image = lines_on_flat([line], size_px=(101, 101)).astype(np.float64)
    sigmas = np.arange(1.5, 5.0, 0.05)
    response = [
        -(t**2) * ndimage.gaussian_filter1d(image, t, axis=0, order=2, truncate=8)[50, 50] for t in sigmas
    ]
    assert max(response) == pytest.approx(0.3849 * amplitude, abs=1e-3 * amplitude)
    assert sigmas[np.argmax(response)] == pytest.approx(math.sqrt(2) * s, abs=0.1)


def test_bar_response_is_stegers() -> None:
    """Steger 1998, PAMI 20:113: bar 5 px wide, contrast 100, sigma 1.5 gives |r''| = 14.74 at the centre."""
    line = Line(
        points=straight((50.0, 50.0), angle_deg=90, length_px=300),
        amplitude=100.0,
        width_px=5.0,
        profile="bar",
    )
    image = lines_on_flat([line], size_px=(101, 101), background=0.0).astype(np.float64)
    got = -ndimage.gaussian_filter1d(image, 1.5, axis=1, order=2)[50, 50]
    # 1 %: the formula is for continuous light, this is a sum over pixels.
    assert got == pytest.approx(14.74, rel=0.01)


@pytest.mark.parametrize("angle_deg", [0, 7.5, 22.5, 45, 60, 90])
@pytest.mark.parametrize("profile", ["gauss", "bar"])
def test_plain_line_has_its_area_at_every_angle(angle_deg: float, profile: Literal["gauss", "bar"]) -> None:
    points = straight((60.2, 59.7), angle_deg=angle_deg, length_px=70.0)
    line = Line(points=points, amplitude=0.2, width_px=3.0, profile=profile)
    total = (lines_on_flat([line], size_px=(121, 121), background=0.5) - 0.5).sum()
    across = 3.0 * math.sqrt(2 * math.pi) if profile == "gauss" else 3.0
    ends = 2 * math.pi * 3.0**2 if profile == "gauss" else math.pi * 1.5**2  # two round half caps
    # 2 %: a bar averaged over one pixel across has slightly larger caps.
    assert total == pytest.approx(0.2 * (across * 70.0 + ends), rel=0.02)


def test_ramp_noise_and_arc() -> None:
    image = lines_on_flat(
        [], size_px=(50, 60), background=0.3, ramp_per_px=(0.001, -0.002), noise=0.01, seed=4
    )
    rows, columns = np.indices(image.shape)
    rest = image - (0.3 + 0.001 * (rows - 24.5) - 0.002 * (columns - 29.5))
    assert rest.std() == pytest.approx(0.01, rel=5 / math.sqrt(2 * rest.size))
    bow = Line(
        points=arc((0.0, 0.0), radius_px=20.0, start_deg=10, sweep_deg=90), amplitude=1.0, width_px=1.0
    )
    assert bow.length_px == pytest.approx(20 * math.pi / 2, rel=3e-4)


def test_poisson_field_obeys_the_stereological_length_law() -> None:
    """L_A = (pi / 2) P_L (Buffon; Underwood 1970, from memory): hits on test lines give the density."""
    size, density = (40.0, 60.0), 2.0
    lengths, crossings, probed = [], 0, 0.0
    rng = np.random.default_rng(5)
    for seed in range(20):
        segments = poisson_lines(seed, density_per_mm=density, size_mm=size)
        lengths.append(np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).sum())
        for _ in range(20):
            turn = rng.uniform(0, math.pi)
            half = 15.0 * np.array([math.sin(turn), math.cos(turn)])
            middle = np.array([20.0, 30.0])
            crossings += hits(segments, [(float(y), float(x)) for y, x in (middle - half, middle + half)])
            probed += 30.0
    true = np.mean(lengths) / (size[0] * size[1])
    # Lines in 20 windows: about 20 x 2 x 72 = 2900 lines in the disc, each a Poisson event; 4 SD.
    assert true == pytest.approx(density, rel=4 / math.sqrt(2900))
    counted = math.pi / 2 * crossings / probed
    # 20 test lines share one field, so only about 20 x 2 x 30 = 1200 independent lines are hit; 4 SD.
    assert counted == pytest.approx(true, rel=4 / math.sqrt(1200))


def test_buffon_needle_as_long_as_the_spacing() -> None:
    """Buffon: a needle as long as the spacing of a grid of lines crosses one with probability 2 / pi."""
    grid = np.array([[[-5.0, c], [45.0, c]] for c in range(0, 41)])
    rng = np.random.default_rng(1)
    count = 3000
    crossed = 0
    for _ in range(count):
        turn, middle = rng.uniform(0, math.pi), rng.uniform(5, 35, 2)
        half = 0.5 * np.array([math.sin(turn), math.cos(turn)])
        crossed += hits(grid, [(float(y), float(x)) for y, x in (middle - half, middle + half)])
    share = 2 / math.pi
    assert crossed / count == pytest.approx(share, abs=4 * math.sqrt(share * (1 - share) / count))


# --- wrong calls ------------------------------------------------------------------------


def test_wrong_calls_are_refused() -> None:
    points = np.array([[0.0, 0.0], [0.0, 1.0]])
    with pytest.raises(ValueError, match="slope_rad"):
        Groove(points=points, width_mm=0.1, slope_rad=2.0, kind="swirl")
    with pytest.raises(ValueError, match="same"):
        Groove(points=np.zeros((2, 2)), width_mm=0.1, slope_rad=0.1, kind="swirl")
    with pytest.raises(ValueError, match="density_mm_per_cm2"):
        swirls(1, density_mm_per_cm2=-1.0)
    with pytest.raises(ValueError, match="blur_px"):
        Shot(blur_px=0.1)
    with pytest.raises(ValueError, match="keep_share"):
        polished([], seed=1, keep_share=2.0)
    assert ring((0.0, 0.0), diameter_mm=4.0).length_mm == pytest.approx(4 * math.pi, rel=1e-2)
