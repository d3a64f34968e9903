"""Closed-form shading of a glossy coat under small lamps, and from it which grooves a photograph shows.

The coat is the microfacet model that the renderer uses (GGX, Walter et al. 2007, "Microfacet models for
refraction through rough surfaces", eq. 33): near normal incidence its reflected radiance is F D(h) / 4
integrated over the lamp. The angle between normal and half vector decides everything, so the lamp is
integrated once into a table.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from grooves import STEP_MM, Groove, tangents
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates, median_filter

Floats = NDArray[np.float64]

FRESNEL = 0.0400  # ((1.5 - 1) / (1.5 + 1))**2, refractive index of clear coat about 1.5
SHOT_K, READ_R = 0.0135, 5e-4  # noise of one pixel, linear, 1 = saturation: sqrt(k^2 I ISO/100 + r^2)
EVERY = 3  # every third centreline point, 0.15 mm apart, goes into the truth file


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """One small round light."""

    position_mm: tuple[float, float, float]  # x, y, height over the panel
    radius_mm: float
    radiance: float = 1.0


def pixel_noise(level: Floats, iso: float) -> Floats:
    """Expected noise of one pixel at a noise-free linear level (1 = saturation)."""
    return np.asarray(np.sqrt(SHOT_K**2 * np.maximum(level, 0) * iso / 100 + READ_R**2))


def half_slopes(x: Floats, y: Floats, lamp: Lamp, camera_mm: float) -> tuple[Floats, Floats]:
    """Slopes (dz/dx, dz/dy) that a surface at (x, y) needs to mirror the lamp's centre into the camera."""
    lx, ly, lz = lamp.position_mm
    to_lamp = np.stack([lx - x, ly - y, np.full_like(x, lz)])
    to_eye = np.stack([-x, -y, np.full_like(x, camera_mm)])
    half = to_lamp / np.linalg.norm(to_lamp, axis=0) + to_eye / np.linalg.norm(to_eye, axis=0)
    return -half[0] / half[2], -half[1] / half[2]


def lamp_table(lamp: Lamp, alpha: float) -> tuple[Floats, Floats]:
    """Reflected radiance over tangent of the angle between normal and half vector.

    Returns
    -------
    tangent, radiance : (M,) float64 ndarray
        The lamp's disc has been integrated over; radiance in units of the lamp's own.
    """
    spread = lamp.radius_mm / (2 * lamp.position_mm[2])  # the lamp's disc in half-vector slopes
    rings = np.sqrt((np.arange(24) + 0.5) / 24) * spread
    angles = (np.arange(24) + 0.5) / 24 * 2 * np.pi
    near = 4 * spread + 6 * alpha
    tangent = np.concatenate([np.linspace(0, near, 400), np.geomspace(near, max(4, 2 * near), 200)[1:]])
    across, down = rings[:, None] * np.cos(angles), rings[:, None] * np.sin(angles)
    apart2 = (tangent[:, None, None] - across) ** 2 + down**2
    # d(half-vector slope) = d(omega) / 4 near the normal, so the lamp's solid angle over 4 is its slope area
    density = alpha**2 / (np.pi * (alpha**2 + apart2) ** 2) * (1 + apart2) ** 2
    return tangent, lamp.radiance * FRESNEL * density.mean(axis=(1, 2)) * np.pi * spread**2


def coat_radiance(
    slope_x: Floats,
    slope_y: Floats,
    halves: Sequence[tuple[Floats, Floats]],
    tables: Sequence[tuple[Floats, Floats]],
) -> Floats:
    """Radiance off the coat where its normal has the given slopes; arrays broadcast together."""
    total: Floats = np.zeros(np.broadcast(slope_x, halves[0][0]).shape)
    for (hx, hy), (tangent, radiance) in zip(halves, tables, strict=True):
        dot = 1 + slope_x * hx + slope_y * hy
        cross2 = (slope_x - hx) ** 2 + (slope_y - hy) ** 2 + (slope_x * hy - slope_y * hx) ** 2
        total += np.interp(np.sqrt(cross2) / dot, tangent, radiance)
    return total


def rounded_profile(groove: Groove, rounding_mm: float) -> tuple[Floats, Floats]:
    """Positions across a groove in mm and the slope there, once a map of finite texels has rounded it."""
    reach = groove.width_mm / 2 + 3 * rounding_mm
    across = np.linspace(-reach, reach, 49)
    step = across[1] - across[0]
    weight = np.exp(-(((across[:, None] - across[None, :]) / rounding_mm) ** 2) / 2)
    weight *= step / (rounding_mm * np.sqrt(2 * np.pi))
    return across, np.asarray(weight @ groove.wall_slope(across / (groove.width_mm / 2)))


def line_contrast(
    groove: Groove,
    *,
    lamps: Sequence[Lamp],
    alpha: float,
    camera_mm: float,
    base_slopes: tuple[Floats, Floats],
    spread_mm: float,
    rounding_mm: float,
) -> Floats:
    """Signed peak of a groove's own line, blurred, at each centreline point: radiance with it minus without.

    Parameters
    ----------
    base_slopes : two (N,) float64 ndarray
        Slopes of the coat without the groove at each centreline point.
    spread_mm : float
        Standard deviation of everything that blurs the line: optics and pixel.
    rounding_mm : float
        Standard deviation of the smoothing of slopes by the map that the renderer was given.
    """
    points, ahead = groove.points_mm, tangents(groove.points_mm)
    aside = np.c_[-ahead[:, 1], ahead[:, 0]]
    across, profile = rounded_profile(groove, rounding_mm)
    wall = profile[None, :] * groove.depth_along[:, None]
    halves = [half_slopes(points[:, 0], points[:, 1], lamp, camera_mm) for lamp in lamps]
    wide = [(hx[:, None], hy[:, None]) for hx, hy in halves]
    tables = [lamp_table(lamp, alpha) for lamp in lamps]
    base_x, base_y = base_slopes
    cut_x, cut_y = base_x[:, None] + wall * aside[:, :1], base_y[:, None] + wall * aside[:, 1:]
    lit = coat_radiance(cut_x, cut_y, wide, tables)
    change = lit - coat_radiance(base_x, base_y, halves, tables)[:, None]
    reach = groove.width_mm / 2 + spread_mm
    look = np.linspace(-reach, reach, 15)
    apart = (look[:, None] - across[None, :]) / spread_mm
    kernel = np.exp(-(apart**2) / 2) / (spread_mm * np.sqrt(2 * np.pi)) * (across[1] - across[0])
    seen = change @ kernel.T
    return np.asarray(np.take_along_axis(seen, np.abs(seen).argmax(axis=1)[:, None], axis=1)[:, 0])


def visible_pieces(
    groove: Groove,
    contrast: Floats,
    *,
    pixels: Floats,
    background: NDArray[np.float32],
    hidden: NDArray[np.bool_],
    iso: float,
    least_cnr: float = 3.0,
    least_mm: float = 1.0,
) -> list[dict[str, object]]:
    """Pieces of one groove with contrast at least `least_cnr` times the noise of one pixel for `least_mm`.

    `contrast` is in sensor units (exposure applied), `pixels` are (N, 2) x, y; `background` is the noise-free
    photograph without grooves, and sets the noise. A running median over 0.75 mm bridges beads. Light above
    saturation is cut off, so nothing is visible inside the core. Other grooves play no part: a crossing does
    not break a piece.
    """
    height, width = background.shape
    inside = ((pixels >= 0) & (pixels <= [width - 1, height - 1])).all(axis=1)
    if not inside.any():
        return []
    ground = map_coordinates(background, [pixels[:, 1], pixels[:, 0]], order=1, mode="nearest")
    whole = np.clip(np.round(pixels).astype(int), 0, [width - 1, height - 1])
    seen = np.minimum(ground + contrast, 1) - np.minimum(ground, 1)
    cnr = median_filter(seen, 15, mode="nearest") / pixel_noise(ground, iso)
    good = inside & ~hidden[whole[:, 1], whole[:, 0]] & (np.abs(cnr) >= least_cnr)
    pieces: list[dict[str, object]] = []
    for sign in (1, -1):
        edges = np.flatnonzero(np.diff(np.r_[0, (good & (np.sign(cnr) == sign)).astype(int), 0]))
        for start, stop in zip(edges[::2], edges[1::2], strict=True):
            length = (stop - 1 - start) * STEP_MM
            if length >= least_mm:
                pieces.append(
                    {
                        "kind": groove.kind,
                        "length_mm": round(length, 2),
                        "cnr": round(float(np.median(np.abs(cnr[start:stop]))), 2),
                        "polarity": "bright" if sign > 0 else "dark",
                        "points": np.round(pixels[np.unique(np.r_[start:stop:EVERY, stop - 1])], 2).tolist(),
                    }
                )
    return pieces
