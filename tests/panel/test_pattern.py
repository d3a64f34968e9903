import numpy as np
import pytest
from numpy.typing import NDArray

from defectmap.errors import NoHotspot
from defectmap.panel import tuning
from defectmap.panel.measure import measure
from defectmap.panel.pattern import repeating_share
from tests.phantom import Groove, Panel, Shot, photograph, swirls, trails
from tests.photofiles import saved

SIZE = (900, 1200)
EVERYWHERE = np.ones(SIZE, bool)
SEEN = Shot(size_px=SIZE, px_per_mm=12.0)


def weave(period_px: float, *, contrast: float = 0.3, seed: int = 0) -> NDArray[np.float32]:
    """Linear light of cloth lit evenly: threads over and under each other, and the noise of a sensor."""
    rows, columns = np.mgrid[: SIZE[0], : SIZE[1]].astype(np.float32)
    over = np.sin(np.pi * columns / period_px) * np.sin(np.pi * rows / period_px) > 0
    thread = np.where(over, np.sin(2 * np.pi * columns / period_px), np.sin(2 * np.pi * rows / period_px))
    noise = np.random.default_rng(seed).normal(0.0, 0.05, SIZE)
    result: NDArray[np.float32] = (0.2 * (1 + contrast * thread + noise)).astype(np.float32)
    return result


@pytest.mark.parametrize("period_px", [5.0, 7.3, 11.0, 18.0])
@pytest.mark.parametrize("turn", [0, 1])
def test_weave_repeats_itself(period_px: float, turn: int) -> None:
    light = weave(period_px)
    assert (
        repeating_share(np.ascontiguousarray(np.rot90(light, turn)), EVERYWHERE if not turn else EVERYWHERE.T)
        > 0.3
    )


def test_one_sine_of_known_power_is_found_with_its_share() -> None:
    # A sine of amplitude a has the power a²/2 (any textbook); white noise of standard deviation s has s², of
    # which the band looked at, a ring from 5 to 58 of a square's 128 periods, holds pi (58² - 5²) / 128².
    # On the copy of half size, where it stands out more, means of two pixels leave cos(pi / 6.1) of the sine
    # and, of four, half of the noise.
    rng = np.random.default_rng(0)
    columns = np.arange(SIZE[1])
    band = np.pi * (58**2 - 5**2) / 128**2
    light = 0.3 * (1 + 0.04 * np.sin(2 * np.pi * columns / 6.1) + rng.normal(0.0, 0.05, SIZE))
    sine, noise = (0.04 * np.cos(np.pi / 6.1)) ** 2 / 2, (0.05 / 2) ** 2 * band
    expected = sine / (sine + noise)
    assert repeating_share(light.astype(np.float32), EVERYWHERE) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("seed", range(3))
def test_noise_does_not_repeat_itself(seed: int) -> None:
    light = 0.2 + np.random.default_rng(seed).normal(0.0, 0.02, SIZE)
    assert repeating_share(light.astype(np.float32), EVERYWHERE) == 0.0


@pytest.mark.parametrize(
    "grooves",
    [
        swirls(1, density_mm_per_cm2=300.0),
        trails(2, density_mm_per_cm2=300.0),
        trails(3, density_mm_per_cm2=500.0, centre_mm=(900.0, 60.0)),
    ],
    ids=["swirls", "trails", "parallel"],
)
def test_marks_of_paint_do_not_repeat_themselves(grooves: tuple[Groove, ...]) -> None:
    light = photograph(grooves, SEEN).luminance
    assert repeating_share(light, EVERYWHERE) < 0.5 * tuning.MOST_REPEATING


@pytest.mark.parametrize("turn_deg", [0.0, 7.0])
def test_edges_of_tape_and_gaps_are_no_pattern(turn_deg: float) -> None:
    shot = Shot(size_px=SIZE, px_per_mm=12.0, iso=50.0, turn_deg=turn_deg)
    light = photograph([], shot, panel=Panel(obstacles=("gap", "tape", "door"))).luminance
    assert repeating_share(light, EVERYWHERE) < 0.5 * tuning.MOST_REPEATING


def test_picture_too_small_for_squares_is_not_judged() -> None:
    assert repeating_share(weave(7.0)[:100, :100], EVERYWHERE[:100, :100]) == 0.0


def test_cloth_under_a_lamp_is_refused_for_what_it_is() -> None:
    rows, columns = np.mgrid[: SIZE[0], : SIZE[1]]
    away = np.hypot(rows - 440, columns - 610)
    lamp = 2.5 * np.exp(-(away**2) / (2 * 90.0**2)) + 0.2
    light = np.clip(lamp * weave(6.0), 0, 1)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    rgb = np.repeat(np.round(255 * code).astype(np.uint8)[..., None], 3, axis=2)
    with pytest.raises(NoHotspot, match="pattern that repeats"):
        measure(saved(rgb, "PNG"), px_per_mm=12.0, name="cloth.png")
