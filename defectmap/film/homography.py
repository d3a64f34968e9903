"""Maps between frames of a plane: 3 × 3 homographies, and small changes of them in eight freedoms.

Points are (x, y), x right and y down, in pixels; the centre of the first pixel is (0, 0).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.panel.paths import unit

FREEDOMS = 8  # of a homography
Homography = NDArray[np.float64]  # (3, 3), last element 1
Points = NDArray[np.float64]  # (N, 2) x, y


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The picture that freedoms are counted in: its middle, and half its width as the unit."""

    middle: tuple[float, float]  # x, y
    unit_px: float

    @classmethod
    def of(cls, shape: tuple[int, ...]) -> Field:
        """The field of a picture of (rows, columns)."""
        return cls(middle=((shape[1] - 1) / 2, (shape[0] - 1) / 2), unit_px=shape[1] / 2)

    @property
    def scaling(self) -> Homography:
        """From pixels to units about the middle."""
        (x, y), s = self.middle, self.unit_px
        return np.array([[1 / s, 0, -x / s], [0, 1 / s, -y / s], [0, 0, 1]])


def transform(homography: Homography, points: Points) -> Points:
    """Map (N, 2) points.

    Examples
    --------
    >>> transform(np.array([[1.0, 0, 5], [0, 1, -2], [0, 0, 1]]), np.array([[1.0, 1.0]]))
    array([[ 6., -1.]])
    """
    flat = points @ homography[:2, :2].T + homography[:2, 2]
    return np.asarray(flat / (points @ homography[2, :2] + homography[2, 2])[:, None])


def transform_lines(homography: Homography, points: Points, along: Points) -> tuple[Points, Points]:
    """Map (N, 2) points and the unit vectors along their lines."""
    here = transform(homography, points)
    return here, unit(transform(homography, points + along) - here)


def turned(turn_deg: float, field: Field, *, scale: float = 1.0) -> Homography:
    """Turn and widen about the middle of the field; a positive turn goes from right towards down."""
    c, s = scale * np.cos(np.deg2rad(turn_deg)), scale * np.sin(np.deg2rad(turn_deg))
    (x, y) = field.middle
    return np.array([[c, -s, x - c * x + s * y], [s, c, y - s * x - c * y], [0, 0, 1]])


def shifted(right_px: float, down_px: float) -> Homography:
    """A shift."""
    return np.array([[1.0, 0, right_px], [0, 1, down_px], [0, 0, 1]])


def freedoms(points: Points, across: Points, field: Field) -> NDArray[np.float64]:
    """How far points move across their lines for a unit of each of eight freedoms.

    Shift right, shift down, scale, turn, stretch, shear, and two tilts (the terms of a homography that
    change the denominator), in units of the field. The first four are a similarity.

    Parameters
    ----------
    points, across : (N, 2) float64 ndarray
        Places, and unit vectors.

    Returns
    -------
    (N, 8) float64 ndarray
        Pixels for each unit.
    """
    x, y = ((points - field.middle) / field.unit_px).T
    none, one = np.zeros_like(x), np.ones_like(x)
    right = np.stack([one, none, x, -y, x, y, -x * x, -x * y], axis=1)
    down = np.stack([none, one, y, x, -y, x, -x * y, -y * y], axis=1)
    return np.asarray((across[:, :1] * right + across[:, 1:] * down) * field.unit_px)


def changed(homography: Homography, change: NDArray[np.float64], field: Field) -> Homography:
    """Follow a homography by a small change in the eight `freedoms`."""
    right, down, scale, turn, stretch, shear, tilt_x, tilt_y = change
    step = np.array(
        [
            [1 + scale + stretch, shear - turn, right],
            [shear + turn, 1 + scale - stretch, down],
            [tilt_x, tilt_y, 1],
        ]
    )
    whole = np.linalg.inv(field.scaling) @ step @ field.scaling @ homography
    return np.asarray(whole / whole[2, 2])


def freedoms_of(homography: Homography, field: Field) -> NDArray[np.float64]:
    """The eight freedoms by which a homography differs from none."""
    m = field.scaling @ homography @ np.linalg.inv(field.scaling)
    m = m / m[2, 2]
    return np.array(
        [
            m[0, 2],
            m[1, 2],
            (m[0, 0] + m[1, 1]) / 2 - 1,
            (m[1, 0] - m[0, 1]) / 2,
            (m[0, 0] - m[1, 1]) / 2,
            (m[0, 1] + m[1, 0]) / 2,
            m[2, 0],
            m[2, 1],
        ]
    )


def grid(shape: tuple[int, ...]) -> Points:
    """Evenly spread points of a picture, in which a place is judged."""
    across, down = tuning.JUDGED_POINTS
    x = np.linspace(0, shape[1] - 1, across)
    y = np.linspace(0, shape[0] - 1, down)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
