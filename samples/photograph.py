"""One photograph with its truth: panel, traced light, camera, and what of the grooves can be seen."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from camera import LUMA, developed, exposure, exposure_time, jpeg, sensor, through_lens
from grooves import Groove, groove_slopes, moved, orange_peel, polished, random_grooves
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from scipy.optimize import fsolve
from shading import Lamp, half_slopes, line_contrast, visible_pieces
from shots import Shot
from tracing import trace

Map = NDArray[np.float32]
Floats = NDArray[np.float64]
MARGIN_MM = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """The coat under the camera: its grooves, and the slopes of everything else."""

    grooves: list[Groove]
    base_x: Map  # slopes without grooves, MARGIN_MM wider than the frame
    base_y: Map
    texels_per_mm: float
    map_mm: tuple[float, float]
    dust: list[tuple[float, ...]]

    def base_at(self, points: Floats) -> tuple[Floats, Floats]:
        """Slopes without grooves at panel points (x, y)."""
        rows = self.base_x.shape[0] / 2 - 0.5 - points[:, 1] * self.texels_per_mm
        columns = points[:, 0] * self.texels_per_mm + self.base_x.shape[1] / 2 - 0.5
        x, y = (
            map_coordinates(m, [rows, columns], order=1, mode="nearest") for m in (self.base_x, self.base_y)
        )
        return x, y


def _water_spots(shot: Shot, x: Map, y: Map, slope_x: Map, slope_y: Map) -> None:
    """Add the etched rims of dried drops to slope maps, in place."""
    rng = np.random.default_rng([shot.paint_seed, 6])
    for _ in range(shot.water_spots):
        cx, cy = rng.uniform(-0.45, 0.45, 2) * shot.field_mm
        radius, rim, steep = rng.uniform(0.5, 2.5), rng.uniform(0.06, 0.15), rng.uniform(0.02, 0.08)
        reach = radius + 4 * rim
        columns = np.flatnonzero(np.abs(x[0] - cx) < reach)
        rows = np.flatnonzero(np.abs(y[:, 0] - cy) < reach)
        if not (len(columns) and len(rows)):
            continue
        box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
        away = np.hypot(x[0, box[1]] - cx, y[box[0], :1] - cy) + 1e-6
        out = (away - radius) / rim
        steepness = steep * -out * np.exp(0.5 - out**2 / 2)
        slope_x[box] += (steepness * (x[0, box[1]] - cx) / away).astype(np.float32)
        slope_y[box] += (steepness * (y[box[0], :1] - cy) / away).astype(np.float32)


def build_panel(shot: Shot) -> Panel:
    """Lay grooves, orange peel, curvature, dried drops and dust."""
    texels = max(80.0, 3.5 * shot.px_per_mm)
    map_mm = (shot.field_mm[0] + MARGIN_MM, shot.field_mm[1] + MARGIN_MM)
    grooves = random_grooves(
        shot.paint_seed,
        size_mm=shot.panel_mm,
        swirl_mm_per_cm2=shot.swirl_mm_per_cm2,
        scratches=shot.scratches,
    )
    if min(shot.swirls_left, shot.scratches_left) < 1:
        grooves = polished(
            grooves, shot.paint_seed, swirls_left=shot.swirls_left, scratches_left=shot.scratches_left
        )
    grooves = moved(grooves, offset_mm=shot.offset, turn_deg=shot.turn_deg)
    size = (round(map_mm[0] * texels), round(map_mm[1] * texels))
    waves = orange_peel(
        shot.paint_seed, field_mm=map_mm, rms_slope=shot.orange, offset_mm=shot.offset, turn_deg=shot.turn_deg
    )
    base_x, base_y = (cv2.resize(m, size, interpolation=cv2.INTER_LINEAR) for m in waves)
    x = (((np.arange(size[0]) + 0.5) / texels - map_mm[0] / 2)[None, :]).astype(np.float32)
    y = ((map_mm[1] / 2 - (np.arange(size[1]) + 0.5) / texels)[:, None]).astype(np.float32)
    if shot.curve_mm:
        base_x -= x / np.float32(shot.curve_mm)
    _water_spots(shot, x, y, base_x, base_y)
    return Panel(
        grooves=grooves, base_x=base_x, base_y=base_y, texels_per_mm=texels, map_mm=map_mm, dust=_dust(shot)
    )


def _dust(shot: Shot) -> list[tuple[float, ...]]:
    """Grains as (x, y, radius) in mm."""
    rng = np.random.default_rng([shot.shot_seed, 7])
    places = rng.uniform(-0.48, 0.48, (shot.dust, 2)) * shot.field_mm
    sizes = np.clip(rng.lognormal(np.log(0.07), 0.5, shot.dust), 0.03, 0.3)
    return [(float(u), float(v), float(r)) for (u, v), r in zip(places, sizes, strict=True)]


def to_pixels(points: Floats, shot: Shot) -> Floats:
    """Panel (x, y) in mm to photograph (x, y) in px; the first pixel's centre is (0, 0)."""
    middle = (np.array(shot.size) - 1) / 2
    return np.asarray(points * [shot.px_per_mm, -shot.px_per_mm] + middle)


def hotspot(shot: Shot) -> Floats:
    """Pixel (x, y) where the lamp's centre is mirrored."""
    lamp = Lamp(position_mm=shot.lamp, radius_mm=shot.lamp_radius)

    def miss(at: Floats) -> list[float]:
        hx, hy = half_slopes(at[:1], at[1:], lamp, shot.camera_z)
        return [float(hx[0] + (at[0] / shot.curve_mm if shot.curve_mm else 0)), float(hy[0])]

    start = np.array(shot.lamp[:2]) * shot.camera_z / (shot.camera_z + shot.lamp[2])
    return to_pixels(np.asarray(fsolve(miss, start)), shot)


def flake_light(shot: Shot) -> Map:
    """Light of metal flakes in the base coat: glints where one mirrors the lamp, and their blurred sum."""
    light = np.zeros((shot.size[1], shot.size[0]), np.float32)
    if not shot.flake:
        return light
    rng = np.random.default_rng([shot.paint_seed, 8])
    count = int(6 * shot.panel_mm[0] * shot.panel_mm[1])
    places = rng.uniform(-0.5, 0.5, (count, 2)) * shot.panel_mm
    tilt, strength = rng.normal(0, 0.11, (count, 2)), rng.lognormal(0, 0.8, count)
    angle = np.deg2rad(shot.turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    places, tilt = places @ turn.T + shot.offset, tilt @ turn.T
    pixels = to_pixels(places, shot)
    ok = ((pixels > 1) & (pixels < np.array(shot.size) - 2)).all(axis=1)
    places, tilt, strength, pixels = places[ok], tilt[ok], strength[ok], pixels[ok]
    across, down = (np.linspace(-f / 2, f / 2, n) for f, n in zip(shot.field_mm, (120, 90), strict=True))
    grid_x, grid_y = np.meshgrid(across, down)
    one = 0.0012 * (shot.px_per_mm / 20) ** 2  # a flake of given size covers this much of a pixel
    for lamp in shot.lights():
        spread = lamp.radius_mm / (2 * lamp.position_mm[2]) + 0.01
        hx, hy = half_slopes(places[:, 0], places[:, 1], lamp, shot.camera_z)
        near = np.exp(-((tilt[:, 0] - hx) ** 2 + (tilt[:, 1] - hy) ** 2) / (2 * spread**2))
        whole = np.round(pixels).astype(int)
        np.add.at(
            light, (whole[:, 1], whole[:, 0]), (one * near * strength * lamp.radiance).astype(np.float32)
        )
        gx, gy = half_slopes(grid_x, -grid_y, lamp, shot.camera_z)
        broad = 6e-5 * np.exp(-(gx**2 + gy**2) / (2 * 0.14**2)) * lamp.radiance
        light += cv2.resize(broad.astype(np.float32), shot.size, interpolation=cv2.INTER_CUBIC)
    return shot.flake * light


def hidden_by_obstacles(shot: Shot) -> NDArray[np.bool_]:
    """True where something covers the paint."""
    mask = np.zeros((shot.size[1], shot.size[0]), np.uint8)
    for thing in shot.obstacles:
        if thing.kind == "door":
            continue
        angle, half = np.deg2rad(thing.angle_deg), thing.width_mm / 2 + (1.3 if thing.kind == "gap" else 0.15)
        out, along = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
        sides = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        corners = [out * (thing.at_mm + s * half) + along * r * 400 for s, r in sides]
        cv2.fillPoly(mask, [np.round(to_pixels(np.array(corners), shot)).astype(np.int32)], 1)
    return mask > 0


def _visible(shot: Shot, panel: Panel, gain: float, ground: Map) -> list[dict[str, Any]]:
    """Pieces of grooves that the photograph shows; `ground` is its noise-free luminance without grooves."""
    hidden, reach, found = hidden_by_obstacles(shot), np.array(shot.field_mm) / 2, list[dict[str, Any]]()
    for groove in panel.grooves:
        if (np.abs(groove.points_mm) > reach).any(axis=1).all():
            continue
        contrast = line_contrast(
            groove,
            lamps=shot.lights(),
            alpha=shot.alpha,
            camera_mm=shot.camera_z,
            base_slopes=panel.base_at(groove.points_mm),
            spread_mm=float(np.sqrt(shot.blur**2 + 1 / 12)) / shot.px_per_mm,
            rounding_mm=float(np.sqrt(1 / 3)) / panel.texels_per_mm,  # bilinear in and out: 1/6 texel² each
        )
        found += visible_pieces(
            groove,
            contrast * gain * float(LUMA @ np.array(shot.tint, np.float32)) * (1 - shot.glare),
            pixels=to_pixels(groove.points_mm, shot),
            background=ground,
            hidden=hidden,
            iso=shot.iso,
        )
    return found


def _truth(shot: Shot, panel: Panel, gain: float, bare: Map) -> dict[str, Any]:
    """Everything the photograph is known to show; `bare` is the noise-free photograph without grooves."""
    luminance = bare @ LUMA
    visible = _visible(shot, panel, gain, cv2.GaussianBlur(luminance, (0, 0), 1.5))
    saturated_px = float(np.sqrt((luminance >= 0.98).sum() / np.pi))
    spot = hotspot(shot)

    def sums(pairs: list[tuple[str, float]]) -> dict[str, float]:
        return {k: round(sum(v for kind, v in pairs if kind == k), 1) for k in ("swirl", "scratch")}

    return {
        "px_per_mm": shot.px_per_mm,
        "width_px": shot.size[0],
        "height_px": shot.size[1],
        "hotspot": {"x": round(float(spot[0]), 1), "y": round(float(spot[1]), 1)},
        "saturated_radius_px": round(saturated_px, 1),
        "visible": visible,
        "visible_mm": sums([(v["kind"], v["length_mm"]) for v in visible]),
        "groove_mm": sums([(g.kind, g.length_mm) for g in panel.grooves]),
        "panel_mm": list(shot.panel_mm),
        "shot": shot.described(),
        "gain": round(gain, 2),
        "exposure_s": exposure_time(gain, shot.iso),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Photograph:
    """The file's bytes, its truth, and the noise-free light that both come from (1 = saturation)."""

    file: bytes
    truth: dict[str, Any]
    light: Map  # (H, W, 3) as it reaches the sensor
    ground: Map  # the same without grooves

    def save(self, folder: Path, name: str) -> None:
        """Write NAME.jpg and NAME.truth.json."""
        folder.mkdir(parents=True, exist_ok=True)
        (folder / f"{name}.jpg").write_bytes(self.file)
        (folder / f"{name}.truth.json").write_text(json.dumps(self.truth, separators=(",", ":")) + "\n")


def photograph(shot: Shot) -> Photograph:
    """Render one photograph and state its truth."""
    panel = build_panel(shot)
    cut_x, cut_y = groove_slopes(panel.grooves, field_mm=panel.map_mm, texels_per_mm=panel.texels_per_mm)
    base, cut = (panel.base_x, panel.base_y), (panel.base_x + cut_x, panel.base_y + cut_y)
    del cut_x, cut_y
    flake = flake_light(shot)[..., None] * np.array(shot.tint, np.float32)
    traced, bare = (
        trace(shot, slopes, map_mm=panel.map_mm, dust=panel.dust, spp=spp, seed=shot.shot_seed) + flake
        for slopes, spp in ((cut, shot.spp), (base, max(shot.spp // 2, 16)))
    )
    lens = {"blur_px": shot.blur, "glare": shot.glare}
    traced, bare = through_lens(traced, **lens), through_lens(bare, **lens)
    mirror_px = shot.lamp_radius * shot.camera_z / (shot.camera_z + shot.lamp[2]) * shot.px_per_mm
    smooth, core_px = cv2.GaussianBlur(bare, (0, 0), 3), np.pi * (1.5 * mirror_px) ** 2
    gain = exposure(smooth, saturated_area_px=core_px) * 2**shot.ev
    traced, bare = traced * np.float32(gain), bare * np.float32(gain)
    film = sensor(traced, iso=shot.iso, seed=shot.shot_seed)
    picture = developed(film, denoise=shot.denoise, sharpen=shot.sharpen)
    truth = _truth(shot, panel, gain, bare)
    file = jpeg(picture, shot, exposure_s=exposure_time(gain, shot.iso))
    return Photograph(file=file, truth=truth, light=traced, ground=bare)
