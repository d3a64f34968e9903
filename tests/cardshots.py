"""Photographs of the scale card by a pinhole camera whose every number is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from defectmap.panel import card

TEXELS_PER_MM = 40
PAPER, INK, PAINT = 0.85, 0.04, 0.02  # linear reflectance


@dataclass(frozen=True, kw_only=True)
class View:
    """A flat panel seen by a pinhole camera; `px_per_mm` on the axis, angles in degrees."""

    width_px: int = 2400
    height_px: int = 1800
    px_per_mm: float = 14.0
    focal_px: float = 2200.0
    tilt_deg: float = 0.0
    tilt_towards_deg: float = 30.0
    roll_deg: float = 0.0
    card_at_mm: tuple[float, float] = (0.0, 20.0)  # middle of the card from the point on the axis
    blur_px: float = 1.0
    noise: float = 0.005  # of full light, at full light

    def panel_to_picture(self) -> np.ndarray:
        """Homography from millimetres on the panel (0, 0 on the camera's axis) to x, y in pixels."""
        camera = np.diag([self.focal_px, self.focal_px, 1.0])
        camera[:2, 2] = (self.width_px - 1) / 2, (self.height_px - 1) / 2
        towards = math.radians(self.tilt_towards_deg)
        axis = np.array([math.cos(towards), math.sin(towards), 0.0]) * math.radians(self.tilt_deg)
        turn = cv2.Rodrigues(axis)[0] @ cv2.Rodrigues(np.array([0.0, 0.0, math.radians(self.roll_deg)]))[0]
        result: np.ndarray = camera @ np.column_stack(
            [turn[:, :2], (0.0, 0.0, self.focal_px / self.px_per_mm)]
        )
        return result

    def card_to_picture(self) -> np.ndarray:
        move = np.eye(3)
        move[:2, 2] = np.array(self.card_at_mm) - np.array(card.CARD_MM) / 2
        return self.panel_to_picture() @ move

    def true_scale(self) -> float:
        """Root of the area scale in the middle of the picture, from two small steps on the panel."""
        points = np.array([(0.0, 0.0), (1e-4, 0.0), (0.0, 1e-4)])
        start, right, down = project(self.panel_to_picture(), points) / 1e-4
        return math.sqrt(abs(np.linalg.det(np.array([right - start, down - start]))))

    def shoot(self, texture: np.ndarray | None = None, *, seed: int = 0) -> np.ndarray:
        """The photograph: (H, W, 3) uint8 sRGB codes."""
        texture = card_texture() if texture is None else texture
        texture = cv2.GaussianBlur(texture, (0, 0), max(0.6, self.blur_px) * TEXELS_PER_MM / self.px_per_mm)
        to_mm = np.array([[1.0, 0, 0.5], [0, 1.0, 0.5], [0, 0, TEXELS_PER_MM]])
        size = (self.width_px, self.height_px)
        light = cv2.warpPerspective(texture, self.card_to_picture() @ to_mm, size, borderValue=PAINT)
        noise = np.random.default_rng(seed).standard_normal(light.shape, dtype=np.float32) * self.noise
        light = np.clip(0.8 * light + noise * np.sqrt(np.maximum(light, 0.01)), 0, 1)
        # IEC 61966-2-1, encoding direction, as a table of 65536 steps of light
        steps = np.arange(65536) / 65535
        code = np.where(steps <= 0.0031308, steps * 12.92, 1.055 * steps ** (1 / 2.4) - 0.055)
        grey = np.rint(code * 255).astype(np.uint8)[(light * 65535).astype(np.uint16)]
        result: np.ndarray = cv2.cvtColor(grey, cv2.COLOR_GRAY2RGB)
        return result


def project(plane: np.ndarray, points: np.ndarray) -> np.ndarray:
    ends = np.column_stack([points, np.ones(len(points))]) @ plane.T
    result: np.ndarray = ends[:, :2] / ends[:, 2:]
    return result


def card_texture(numbers: tuple[int, ...] = card.MARKER_IDS) -> np.ndarray:
    """The card in linear light, painted from its geometry; only the listed markers are shown."""
    width, height = (round(side * TEXELS_PER_MM) for side in card.CARD_MM)
    texture = np.full((height, width), PAPER, np.float32)
    for box in card.boxes():
        edges = np.array([box.x_mm, box.y_mm, box.x_mm + box.width_mm, box.y_mm + box.height_mm])
        left, top, right, bottom = np.rint(edges * TEXELS_PER_MM).astype(int)
        texture[top:bottom, left:right] = INK if box.grey == 0 else ((box.grey / 255 + 0.055) / 1.055) ** 2.4
    for number, corners in card.marker_corners_mm().items():
        if number not in numbers:
            (left, top), (right, bottom) = np.rint(corners[[0, 2]] * TEXELS_PER_MM).astype(int)
            texture[top:bottom, left:right] = PAPER
    return texture
