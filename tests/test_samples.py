"""The sample job's renderer: its closed-form light against physics, its truth against the photographs."""

from __future__ import annotations

import importlib
import json
import math
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

SAMPLES = Path(__file__).resolve().parent.parent / "samples"
PHOTOS = SAMPLES / "photos"
MODULES = ("grooves", "shading", "shots", "camera", "tracing", "photograph")
JOB = json.loads((SAMPLES / "job.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def rendering() -> Any:
    """The renderer's modules by name, put away again afterwards: their names are common words."""
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(SAMPLES))
        found = {name: importlib.import_module(name) for name in MODULES}
        yield type("Rendering", (), found)
        for name in MODULES:
            sys.modules.pop(name, None)


def remapped(light: Any, at: NDArray[np.float32], kind: int) -> NDArray[Any]:
    # Two maps: OpenCV 5 takes an empty second one for a map, and gives other places' light.
    column, row = np.ascontiguousarray(at[..., 0]), np.ascontiguousarray(at[..., 1])
    return np.asarray(cv2.remap(light, column, row, kind))


def linear(name: str) -> Any:
    picture = cv2.imread(str(PHOTOS / name))  # BGR
    assert picture is not None
    code = picture / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return light @ [0.0722, 0.7152, 0.2126]


@pytest.mark.parametrize("alpha", [0.006, 0.01, 0.04])
def test_a_mirrored_lamp_is_as_bright_as_the_share_of_the_lobe_it_fills(rendering: Any, alpha: float) -> None:
    # Walter et al. 2007, eq. 33, integrated over a cone of slopes s: s^2 / (s^2 + alpha^2) of the lobe.
    # 1 %: the sum over 576 places on the lamp's disc.
    lamp = rendering.shading.Lamp(position_mm=(0.0, 0.0, 480.0), radius_mm=9.6)
    spread = 9.6 / (2 * 480)
    tangent, radiance = rendering.shading.lamp_table(lamp, alpha)
    assert tangent[0] == 0
    share = spread**2 / (spread**2 + alpha**2)
    assert radiance[0] == pytest.approx(((1.5 - 1) / (1.5 + 1)) ** 2 * share, rel=0.01)


def test_the_lamp_is_mirrored_where_the_law_of_reflection_says(rendering: Any) -> None:
    shot = rendering.shots.Shot(name="", paint_seed=0, shot_seed=0, size=(2400, 1800), px_per_mm=20.0)
    # the mirror image hangs at minus the lamp's height: the ray crosses the panel at 450 / 930 of x, y
    x, y = rendering.photograph.hotspot(shot)
    assert x == pytest.approx(1199.5 + 20 * 6 * 450 / 930, abs=0.01)
    assert y == pytest.approx(899.5 - 20 * 8 * 450 / 930, abs=0.01)


def test_a_slope_map_holds_each_groove_once(rendering: Any) -> None:
    grooves = rendering.grooves
    straight = grooves.Groove(
        kind="swirl",
        points_mm=np.c_[np.arange(-2, 2, grooves.STEP_MM), np.zeros(80)],
        width_mm=0.06,
        slope=0.1,
        sharpness=0.0,
        lean=0.0,
        depth_along=np.ones(80),
    )
    _, slope_y = grooves.groove_slopes([straight], field_mm=(6.0, 2.0), texels_per_mm=100.0)
    column = slope_y[:, 300]
    assert abs(column.sum()) < 1e-3  # the far side of a groove is as high as the near side
    # depth = integral of the slope over half the width: 0.03 mm * 0.1 * 2 / pi; 3 %: the texel's rounding
    assert np.abs(column).sum() / 2 / 100 == pytest.approx(0.03 * 0.1 * 2 / math.pi, rel=0.03)
    # along the line the map must not bead: 5 % is far under what the renderer's own noise does
    assert np.ptp(np.abs(slope_y[:, 150:450]).sum(axis=0)) < 0.05 * np.abs(column).sum()


def test_polishing_only_takes_away(rendering: Any) -> None:
    before = rendering.grooves.random_grooves(3, size_mm=(60.0, 40.0), swirl_mm_per_cm2=30.0, scratches=3)
    after = rendering.grooves.polished(before, 3, swirls_left=0.3, scratches_left=1.0)
    steepest = {id(groove.points_mm): groove.slope for groove in before}
    assert 0 < len(after) < len(before)
    assert all(groove.slope <= steepest[id(groove.points_mm)] for groove in after)
    assert sum(groove.kind == "scratch" for groove in after) == 3


def test_sensor_noise_follows_the_stated_model(rendering: Any) -> None:
    level = np.full((400, 400, 3), 0.2, np.float32)
    noisy = rendering.camera.sensor(level, iso=400, seed=1)
    # 1 %: standard error of a standard deviation from 480,000 values is 0.1 %
    assert noisy.std() == pytest.approx(math.sqrt(0.0135**2 * 0.2 * 4 + 0.0005**2), rel=0.01)


def test_the_job_names_five_panels_before_and_after() -> None:
    shown = {(photo["panel"], photo["stage"]) for photo in JOB["photographs"]}
    panels = {panel["name"] for panel in JOB["panels"]}
    assert len(panels) == 5
    assert shown == {(panel, stage) for panel in panels for stage in ("before", "after")}
    assert {step["panel"] for step in JOB["steps"] if step["step"] == "wipe"} == panels


@pytest.mark.parametrize("entry", JOB["photographs"], ids=lambda entry: Path(entry["file"]).stem)
def test_truth_lies_on_lines_of_the_photograph(entry: dict[str, Any]) -> None:
    truth = json.loads((SAMPLES / entry["truth"]).read_text(encoding="utf-8"))
    light = linear(Path(entry["file"]).name)
    assert light.shape == (truth["height_px"], truth["width_px"])
    assert truth["px_per_mm"] == entry["px_per_mm"]
    right = []
    for piece in truth["visible"]:
        if piece["cnr"] < 8 or piece["length_mm"] < 2:
            continue  # strong enough to see in the noise, long enough for a median
        points = np.array(piece["points"])
        ahead = np.gradient(points, axis=0)
        aside = np.c_[-ahead[:, 1], ahead[:, 0]] / np.linalg.norm(ahead, axis=1, keepdims=True)
        at = [points + shift * aside for shift in (0, -7, 7)]
        on, left, beyond = (
            np.median(remapped(light, p[None, ..., :].astype(np.float32), cv2.INTER_LINEAR)) for p in at
        )
        right.append((on > (left + beyond) / 2) == (piece["polarity"] == "bright"))
    # nine in ten: a neighbour at 7 px can outshine the ground; truth shifted or mirrored gives about half
    assert np.mean(right) > 0.9


@pytest.mark.slow
def test_the_tracer_agrees_with_the_closed_form(rendering: Any) -> None:
    pytest.importorskip("mitsuba")
    rendering.tracing.choose_variant("scalar_rgb")
    shot = rendering.shots.Shot(
        name="",
        paint_seed=4,
        shot_seed=4,
        size=(480, 360),
        px_per_mm=16.0,
        panel_mm=(36.0, 28.0),
        lamp=(20.0, 16.0, 480.0),
        lamp_radius=6.0,
        swirl_mm_per_cm2=30.0,
        dust=0,
        spp=64,
    )
    made = rendering.photograph.photograph(shot)
    luma = rendering.camera.LUMA
    change, ground = (made.light - made.ground) @ luma, made.ground @ luma
    ratios = []
    for piece in made.truth["visible"]:
        points = np.array(piece["points"])[:-1]
        ahead = np.gradient(points, axis=0)
        aside = np.c_[-ahead[:, 1], ahead[:, 0]] / np.linalg.norm(ahead, axis=1, keepdims=True)
        at = points[:, None] + np.arange(-2, 2.01, 0.5)[:, None] * aside[:, None]
        seen = remapped(change, at.astype(np.float32), cv2.INTER_CUBIC)
        peak = np.abs(np.median(seen, axis=0)).max()
        noise = rendering.shading.pixel_noise(np.median(remapped(ground, at.astype(np.float32), 1)), shot.iso)
        ratios.append(peak / noise / piece["cnr"])
    assert len(ratios) >= 10
    # 15 %: the tracer's noise and its 80 texels a mm; a lamp, slope or exposure off by a factor would show
    assert np.median(ratios) == pytest.approx(1, abs=0.15)
