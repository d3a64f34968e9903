"""Where a lamp's light goes after the coat: the half vector, and the lobe seen through the lamp's disc.

The coat's micro-roughness is GGX (Walter, Marschner, Li and Torrance 2007; from memory). Over slopes x
of the normal its density is alpha^2 / (pi (alpha^2 + x^2)^2), which is a sphere's uniform density seen by
stereographic projection; a disc of slopes is then a spherical cap, and the share of the lobe inside it has a
closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]

_LED_FLUX = 0.7  # of a cluster, against one lamp that fills the same disc


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One luminous disc, parallel to the panel."""

    row_mm: float
    column_mm: float
    height_mm: float
    radius_mm: float
    power: float  # radiance, relative to the main lamp


def lobe_share(offset2: Floats, *, disc: float, alpha: float) -> Floats:
    """Share of the coat's lobe that falls inside a disc of slopes.

    Parameters
    ----------
    offset2 : ndarray
        Squared distance from the lobe's centre to the disc's centre, in slope^2; any shape.
    disc : float
        Radius of the disc, in slope.
    alpha : float
        GGX roughness.

    Returns
    -------
    ndarray
        0..1, same shape and dtype.
    """
    q = offset2 + (alpha * alpha - disc * disc)
    s = np.sqrt(q * q + 4 * disc * disc * alpha * alpha)
    # The usual form (1 - q / s) / 2 cancels far from the lamp; this one does not.
    return 2 * disc * disc * alpha * alpha / (s * (s + q))  # type: ignore[no-any-return]


def half_slopes(
    row_mm: Floats, column_mm: Floats, source: Source, *, camera_mm: tuple[float, float, float]
) -> tuple[Floats, Floats]:
    """Slopes (row, column) of the normal that mirror the lamp's centre into the camera, at each place."""
    parts = []
    for row, column, height in (camera_mm, (source.row_mm, source.column_mm, source.height_mm)):
        dr, dc = row - row_mm, column - column_mm
        inverse = 1 / np.sqrt(dr * dr + dc * dc + height * height)
        parts.append((dr * inverse, dc * inverse, height * inverse))
    (vr, vc, vz), (lr, lc, lz) = parts
    z = vz + lz
    return (vr + lr) / z, (vc + lc) / z


def disc_slope(source: Source) -> float:
    """Radius of the lamp's disc in slopes: half its angle, as a tilt turns the ray by twice itself."""
    return source.radius_mm / (2 * source.height_mm)


def cluster(
    lamp_mm: tuple[float, float, float], radius_mm: float, count: int, power: float = 1.0
) -> tuple[Source, ...]:
    """One lamp (count 1), or `count` LEDs inside the same disc: one in the middle, the others on a ring."""
    row, column, height = lamp_mm
    if count == 1:
        return (Source(row_mm=row, column_mm=column, height_mm=height, radius_mm=radius_mm, power=power),)
    led = radius_mm * math.sqrt(_LED_FLUX / count)
    on_ring = count - 1 if count > 4 else count
    places = [(0.0, 0.0)] if count > 4 else []
    for k in range(on_ring):
        turn = 2 * math.pi * k / on_ring
        places.append((radius_mm * 0.68 * math.sin(turn), radius_mm * 0.68 * math.cos(turn)))
    return tuple(
        Source(row_mm=row + r, column_mm=column + c, height_mm=height, radius_mm=led, power=power)
        for r, c in places
    )
