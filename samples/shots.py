"""What one rendered photograph is made of."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from shading import Lamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Obstacle:
    """Something on or over the panel that is not paint: tape, a gap, a trim strip, a reflected door edge."""

    kind: str  # tape, gap, trim, door
    at_mm: float  # distance of its middle (door: of its edge) from the frame's middle
    angle_deg: float  # direction that distance is measured in, 0 right, 90 up
    width_mm: float = 8.0
    colour: tuple[float, float, float] = (0.2, 0.25, 0.35)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Panel, lamp, camera and film of one photograph; lengths in mm."""

    name: str
    paint_seed: int  # grooves and orange peel
    shot_seed: int  # noise, dust, flake
    size: tuple[int, int] = (2000, 1500)  # px, width and height
    px_per_mm: float = 16.0
    panel_mm: tuple[float, float] = (160.0, 125.0)  # grooves lie on this much of the panel
    camera_z: float = 450.0
    lamp: tuple[float, float, float] = (6.0, 8.0, 480.0)
    lamp_radius: float = 11.0
    lamps: int = 1  # LEDs, spread over `lamp_radius`
    ring: bool = False  # LEDs on a circle, not over a disc
    second: tuple[float, float, float, float, float] | None = None  # x, y, z, radius, radiance
    offset: tuple[float, float] = (0.0, 0.0)  # the panel under the camera
    turn_deg: float = 0.0
    colour: tuple[float, float, float] = (0.008, 0.01, 0.016)
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)  # lamp colour left after white balance
    alpha: float = 0.01
    orange: float = 0.0012
    curve_mm: float | None = None  # radius of curvature across x
    swirl_mm_per_cm2: float = 40.0
    scratches: int = 5
    swirls_left: float = 1.0  # share left after correction
    scratches_left: float = 1.0
    flake: float = 0.0
    dust: int = 12
    water_spots: int = 0
    obstacles: tuple[Obstacle, ...] = field(default=())
    ev: float = 0.0
    blur: float = 0.75  # px
    glare: float = 0.012
    iso: int = 100
    taken: str = "2026:05:04 09:00:00"
    denoise: float = 0.0  # strength of the camera's own noise reduction
    sharpen: float = 0.0  # amount of the camera's own unsharp mask
    quality: int = 90
    spp: int = 64

    @property
    def field_mm(self) -> tuple[float, float]:
        """What the frame covers on the panel."""
        return self.size[0] / self.px_per_mm, self.size[1] / self.px_per_mm

    def lights(self) -> list[Lamp]:
        """The inspection lamp's LEDs, then the second light if there is one."""
        x, y, z = self.lamp
        if self.lamps == 1:
            made = [Lamp(position_mm=self.lamp, radius_mm=self.lamp_radius)]
        else:
            turn = np.random.default_rng([self.shot_seed, 9]).uniform(0, 2 * np.pi)
            around = self.lamps if self.ring else self.lamps - 1
            angles = turn + np.arange(around) / around * 2 * np.pi
            spots = [(x + self.lamp_radius * np.cos(a), y + self.lamp_radius * np.sin(a)) for a in angles]
            spots += [] if self.ring else [(x, y)]
            small = self.lamp_radius * min(0.3, 1.8 / self.lamps**0.9)
            made = [Lamp(position_mm=(float(u), float(v), z), radius_mm=small) for u, v in spots]
        if self.second:
            made.append(Lamp(position_mm=self.second[:3], radius_mm=self.second[3], radiance=self.second[4]))
        return made

    def described(self) -> dict[str, Any]:
        """Plain values for the truth file."""
        return asdict(self)
