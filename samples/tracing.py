"""The path-traced part: panel, coat, lamps and obstacles in mitsuba, seen from straight above."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shots import Obstacle, Shot

Map = NDArray[np.float32]
MAX_WAVE = 40_000_000  # samples in flight at once, for memory


def choose_variant(wanted: str = "auto") -> str:
    """Select a mitsuba variant; `auto` is the first of GPU, LLVM, plain that renders a small panel."""
    import mitsuba as mi

    if wanted == "auto":
        wanted = next((v for v in ("cuda_ad_rgb", "llvm_ad_rgb") if _works(v)), "scalar_rgb")
    mi.set_variant(wanted)
    return wanted


def _works(variant: str) -> bool:
    """Whether a variant renders, tried in a process of its own: with the wrong library it aborts Python."""
    return subprocess.run([sys.executable, __file__, variant], capture_output=True).returncode == 0


def _paint(alpha: float, colour: tuple[float, float, float]) -> dict[str, Any]:
    return {
        "type": "roughplastic",
        "distribution": "ggx",
        "alpha": alpha,
        "int_ior": 1.5,
        "ext_ior": 1.0,
        "nonlinear": True,
        "diffuse_reflectance": {"type": "rgb", "value": list(colour)},
    }


def _diffuse(colour: tuple[float, float, float]) -> dict[str, Any]:
    return {"type": "diffuse", "reflectance": {"type": "rgb", "value": list(colour)}}


def _glow(radiance: list[float]) -> dict[str, Any]:
    return {"type": "area", "radiance": {"type": "rgb", "value": radiance}}


def _obstacle(thing: Obstacle, shot: Shot) -> dict[str, Any]:
    """Geometry of one obstacle: long strips across the frame, or a dim wide wall that the coat mirrors."""
    import mitsuba as mi

    to = mi.ScalarTransform4f
    strip = to().rotate([0, 0, 1], thing.angle_deg).translate([thing.at_mm, 0, 0])
    reach = 2 * max(shot.field_mm)

    angle = np.deg2rad(thing.angle_deg)
    out, along = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])

    def rod(aside: float, height: float, radius: float, bsdf: dict[str, Any]) -> dict[str, Any]:
        ends = [[*((thing.at_mm + aside) * out + along * s), height] for s in (-reach, reach)]
        return {"type": "cylinder", "p0": ends[0], "p1": ends[1], "radius": radius, "bsdf": bsdf}

    half = thing.width_mm / 2
    flat = {"type": "rectangle", "to_world": strip @ to().translate([0, 0, 0.12]).scale([half, reach, 1])}
    if thing.kind == "tape":
        return {"tape": {**flat, "bsdf": _diffuse(thing.colour)}}
    if thing.kind == "gap":
        edge = _paint(shot.alpha * 3, shot.colour)
        lips = {"lip1": rod(-half, -0.9, 1.2, edge), "lip2": rod(half, -0.9, 1.2, edge)}
        return {"gap": {**flat, "bsdf": _diffuse((0.003, 0.003, 0.003))}, **lips}
    if thing.kind == "trim":
        return {"trim": rod(0, -half * 0.4, half, _paint(0.18, (0.01, 0.01, 0.01)))}
    if thing.kind == "door":
        height = 900.0
        scale = 1 + height / shot.camera_z  # where the mirrored edge must hang to show at `at_mm`
        wall = to().rotate([0, 0, 1], thing.angle_deg).translate([thing.at_mm * scale + 1500, 0, height])
        wall = wall @ to().scale([1500, 3000, 1]).rotate([1, 0, 0], 180)
        return {"door": {"type": "rectangle", "to_world": wall, "emitter": _glow(list(thing.colour))}}
    raise ValueError(f"no obstacle of kind {thing.kind!r}")


def _normal_map(slopes: tuple[Map, Map]) -> Any:
    """Normals as a texture: 0..1 for -1..1, rows turned over because v runs up."""
    import mitsuba as mi

    normal = np.empty((*slopes[0].shape, 3), np.float32)
    normal[..., 2] = 0.5 / np.sqrt(1 + slopes[0] ** 2 + slopes[1] ** 2)
    for axis in (0, 1):
        normal[..., axis] = 0.5 - slopes[axis][::-1] * normal[::-1, :, 2]  # rows turned over: v runs up
    normal[..., 2] = normal[::-1, :, 2] + 0.5
    return mi.Bitmap(normal)


def _scene(
    shot: Shot, slopes: tuple[Map, Map], map_mm: tuple[float, float], dust: list[tuple[float, ...]]
) -> dict[str, Any]:
    import mitsuba as mi

    to = mi.ScalarTransform4f
    texture = {"type": "bitmap", "bitmap": _normal_map(slopes), "raw": True, "wrap_mode": "clamp"}
    fov = 2 * np.rad2deg(np.arctan(shot.field_mm[0] / 2 / shot.camera_z))
    scene: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "direct", "emitter_samples": 1, "bsdf_samples": 1},
        "sensor": {
            "type": "perspective", "fov": float(fov), "fov_axis": "x",
            "to_world": to().look_at([0, 0, shot.camera_z], [0, 0, 0], [0, 1, 0]),
            "film": {"type": "hdrfilm", "width": shot.size[0], "height": shot.size[1], "pixel_format": "rgb",
                     "component_format": "float32", "rfilter": {"type": "box"}},
            "sampler": {"type": "multijitter", "sample_count": 16},
        },
        "panel": {
            "type": "rectangle",
            "to_world": to().scale([map_mm[0] / 2, map_mm[1] / 2, 1]),
            "bsdf": {"type": "normalmap", "normalmap": texture, "nested": _paint(shot.alpha, shot.colour)},
        },
    }  # fmt: skip
    for index, lamp in enumerate(shot.lights()):
        scene[f"lamp{index}"] = {
            "type": "sphere",
            "center": list(lamp.position_mm),
            "radius": lamp.radius_mm,
            "emitter": _glow([lamp.radiance * t for t in shot.tint]),
        }
    for number, thing in enumerate(shot.obstacles):
        scene |= {f"{key}{number}": part for key, part in _obstacle(thing, shot).items()}
    for index, (x, y, radius) in enumerate(dust):
        scene[f"dust{index}"] = {
            "type": "sphere",
            "center": [x, y, radius * 0.6],
            "radius": radius,
            "bsdf": _diffuse((0.45, 0.43, 0.4)),
        }
    return scene


def trace(
    shot: Shot,
    slopes: tuple[Map, Map],
    *,
    map_mm: tuple[float, float],
    dust: list[tuple[float, ...]],
    spp: int,
    seed: int,
) -> NDArray[np.float32]:
    """Linear radiance (H, W, 3) in units of the lamp's own: direct light, the mean of several passes."""
    import mitsuba as mi

    scene = mi.load_dict(_scene(shot, slopes, map_mm, dust))
    pixels = shot.size[0] * shot.size[1]
    each = 4 if str(mi.variant()).startswith("llvm") and pixels * 16 > MAX_WAVE else 16
    passes = max(round(spp / each), 1)
    total = np.zeros((shot.size[1], shot.size[0], 3), np.float64)
    for number in range(passes):
        total += np.array(mi.render(scene, spp=each, seed=mi.UInt32(seed * 1000 + number)))[..., :3]
    return (total / passes).astype(np.float32)


if __name__ == "__main__":
    choose_variant(sys.argv[1])
    flat = np.zeros((60, 80), np.float32)
    small = Shot(name="probe", paint_seed=0, shot_seed=0, size=(32, 24), px_per_mm=1.0)
    trace(small, (flat, flat), map_mm=(40.0, 30.0), dust=[(0.0, 0.0, 1.0)], spp=16, seed=0)
