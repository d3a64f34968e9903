"""What is photographed and how: the paint, the lamp, the camera."""

from __future__ import annotations

from dataclasses import dataclass

from tests.phantom.camera import MIN_BLUR_PX
from tests.phantom.obstacles import Obstacle


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """The paint, the same in every photograph of it, grooves apart."""

    body: tuple[float, float, float] = (0.008, 0.010, 0.016)  # linear RGB albedo under the coat
    alpha: float = 0.01  # GGX roughness of the coat; about 0.022 looks hazy
    haze: float = (
        0.0  # share of the coat's light that a second, broad lobe scatters: fine haze; 0.05 is plenty
    )
    haze_alpha: float = 0.07  # GGX roughness of that lobe
    orange_peel_rad: float = 0.0012  # RMS slope along each axis; 0.003 is heavy
    flake: float = 0.0  # metallic flakes, 1 is plenty
    curve_mm: float | None = None  # radius of a convex bend across the columns
    water_spots: int = 0
    obstacles: tuple[Obstacle, ...] = ()
    size_mm: tuple[float, float] = (115.0, 150.0)
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what cannot be photographed."""
        if not self.alpha > 0:
            raise ValueError(f"alpha must be above 0, got {self.alpha!r}")
        if not 0 <= self.haze < 1:
            raise ValueError(f"haze must be a share from 0 to below 1, got {self.haze!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """Lamp, camera and exposure of one photograph."""

    size_px: tuple[int, int] = (700, 900)  # rows, columns
    px_per_mm: float = 10.0
    lamp_mm: tuple[float, float, float] = (-8.0, 6.0, 480.0)  # row, column on the panel, height above it
    lamp_radius_mm: float = 11.0
    lamps: int = 1  # 7 is a cluster of LEDs inside the same disc
    second_lamp_mm: tuple[float, float, float] | None = None
    second_power: float = 0.3  # radiance of the second lamp against the first
    camera_height_mm: float = 450.0
    offset_mm: tuple[float, float] = (0.0, 0.0)  # place on the panel under the camera, row, column
    turn_deg: float = 0.0  # camera about its own axis; above 0 turns the picture counter-clockwise
    ev: float = 0.0
    iso: float = 100.0
    blur_px: float = 0.75  # SD, without the pixel's own square
    glare: float = 0.012
    dust: int = 0
    grain: float = (
        0.0  # SD of speckle before blur, share of the coat's light; 0.25 is like a coarse rendering
    )
    sharpen: float = 0.0  # unsharp mask as phones apply it, share of the detail below about 1 px added again
    jpeg_quality: int | None = 92  # None: no file
    taken: str | None = None  # EXIF time, YYYY:MM:DD HH:MM:SS
    seed: int = 0  # of noise and dust

    def __post_init__(self) -> None:
        """Refuse what cannot be photographed."""
        if min(self.size_px) < 16:
            raise ValueError(f"size_px must be at least 16 each way, got {self.size_px!r}")
        if not self.px_per_mm > 0:
            raise ValueError(f"px_per_mm must be above 0, got {self.px_per_mm!r}")
        if self.blur_px < MIN_BLUR_PX:
            raise ValueError(f"blur_px must be at least {MIN_BLUR_PX:.3f}, got {self.blur_px!r}")
        if min(self.sharpen, self.grain) < 0:
            raise ValueError(f"sharpen and grain must be 0 or more, got {self.sharpen!r}, {self.grain!r}")
        if self.lamps < 1:
            raise ValueError(f"lamps must be 1 or more, got {self.lamps!r}")
