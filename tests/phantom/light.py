"""The light that the paint sends to the camera, at every pixel or at scattered places, before exposure."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.phantom import surface
from tests.phantom.lamp import Source, cluster, disc_slope, half_slopes, lobe_share
from tests.phantom.setup import Panel, Shot
from tests.phantom.view import View

Floats = NDArray[np.floating[Any]]
Image = NDArray[np.float32]

MIRROR_LEVEL = 8.2  # a perfectly smooth coat's lamp image at EV 0, in units of saturation
_FRESNEL = 0.04  # n = 1.5 at normal incidence
_COAT_PASS = 0.8  # of the body's light, in and out through the coat
_FLAKE_TILT_RAD = 0.12
_FLAKE_LOBE_RAD = 0.02
_FLAKE_LIGHT = 0.02


class LightField:
    """Light of the smooth coat and of the body under it, for one shot of one panel."""

    def __init__(self, shot: Shot, panel: Panel) -> None:
        """Place the sources of `shot` over `panel`."""
        self._panel = panel
        self._camera = (*shot.offset_mm, shot.camera_height_mm)
        self._main = cluster(shot.lamp_mm, shot.lamp_radius_mm, 1)[0]
        sources = cluster(shot.lamp_mm, shot.lamp_radius_mm, shot.lamps)
        if shot.second_lamp_mm is not None:
            sources += cluster(shot.second_lamp_mm, shot.lamp_radius_mm, 1, shot.second_power)
        self.sources = sources

    @property
    def finest(self) -> float:
        """Smallest slope over which the light changes."""
        return self._panel.alpha

    def half(self, row_mm: Floats, column_mm: Floats) -> list[tuple[Floats, Floats]]:
        """Slopes that would mirror each source into the camera, at places on the panel."""
        return [half_slopes(row_mm, column_mm, s, camera_mm=self._camera) for s in self.sources]

    def surface_slopes(self, row_mm: Floats, column_mm: Floats) -> tuple[Floats, Floats]:
        """Slopes of the panel without grooves: orange peel and bend."""
        panel = self._panel
        r, c = surface.at_points(surface.peel_tile(panel.seed), row_mm, column_mm, surface.PEEL_STEP_MM)
        return r * panel.orange_peel_rad, c * panel.orange_peel_rad + self._bend(column_mm)

    def of_slopes(self, half: list[tuple[Floats, Floats]], row_slope: Floats, column_slope: Floats) -> Floats:
        """Coat's light where the normal has these slopes."""
        total: Any = 0.0
        for (hr, hc), source in zip(half, self.sources, strict=True):
            dr, dc = hr - row_slope, hc - column_slope
            total = total + MIRROR_LEVEL * source.power * self._share(dr * dr + dc * dc, disc_slope(source))
        return np.asarray(total)

    def _share(self, offset2: Floats, disc: float) -> Floats:
        """Share of a source's light that the coat sends on, its haze included."""
        panel = self._panel
        clear = lobe_share(offset2, disc=disc, alpha=panel.alpha)
        if not panel.haze:
            return clear
        hazy = lobe_share(offset2, disc=disc, alpha=panel.haze_alpha)
        return (1 - panel.haze) * clear + panel.haze * hazy

    def body_light(self, row_mm: Floats, column_mm: Floats) -> Floats:
        """Light of a body of albedo 1 under the coat."""
        total: Any = 0.0
        for s in self.sources:
            away2 = (row_mm - s.row_mm) ** 2 + (column_mm - s.column_mm) ** 2
            cos2 = s.height_mm**2 / (s.height_mm**2 + away2)
            total = total + s.power * (s.radius_mm / s.height_mm) ** 2 * cos2 * cos2
        return np.asarray(total * (MIRROR_LEVEL / _FRESNEL * _COAT_PASS))

    def in_frame(self, view: View) -> tuple[Image, Image]:
        """Light of the coat without grooves, and of a body of albedo 1, at every pixel: (H, W) each."""
        panel = self._panel
        height, width = view.size_px
        rows = np.arange(height, dtype=np.float32)[:, None]
        columns = np.arange(width, dtype=np.float32)[None, :]
        row_mm, column_mm = (np.asarray(x, np.float32) for x in view.to_mm(rows, columns))
        half = self.half(row_mm, column_mm)
        tile = surface.peel_tile(panel.seed)
        sr, sc = surface.in_frame(tile, view.matrix, view.size_px, surface.PEEL_STEP_MM)
        rms = np.float32(panel.orange_peel_rad)
        coat = self.of_slopes(half, sr * rms, sc * rms + self._bend(column_mm)).astype(np.float32)
        if panel.flake > 0:
            coat += self._flakes(half[0], view)
        return coat, self.body_light(row_mm, column_mm).astype(np.float32)

    def mirror_px(self, view: View) -> tuple[float, float]:
        """Where the panel, orange peel apart, mirrors the middle of the main lamp: row and column in px."""
        mm = np.array(_flat_mirror(self._main, self._camera))
        # Newton's method on half slope = slope of the bend; a flat panel is there in one or two steps.
        for _ in range(50):
            miss = self._miss(mm)
            by = 1e-3
            jacobian = np.column_stack([(self._miss(mm + by * e) - miss) / by for e in np.eye(2)])
            step = np.linalg.solve(jacobian, miss)
            mm = mm - step
            if float(np.abs(step).max()) < 1e-10:
                break
        row, column = view.to_px(mm[:1], mm[1:])
        return float(row[0]), float(column[0])

    def _miss(self, mm: NDArray[np.float64]) -> NDArray[np.float64]:
        hr, hc = half_slopes(mm[:1], mm[1:], self._main, camera_mm=self._camera)
        return np.array([float(hr[0]), float(hc[0] - self._bend(mm[1:])[0])])

    def _bend(self, column_mm: Floats) -> Floats:
        if self._panel.curve_mm is None:
            return np.zeros_like(column_mm)
        return column_mm / np.asarray(self._panel.curve_mm, column_mm.dtype)

    def _flakes(self, half: tuple[Floats, Floats], view: View) -> Image:
        tile = surface.flake_tile(self._panel.seed)
        tr, tc = surface.in_frame(tile, view.matrix, view.size_px, surface.FLAKE_STEP_MM, smooth=False)
        away2 = (half[0] - _FLAKE_TILT_RAD * tr) ** 2 + (half[1] - _FLAKE_TILT_RAD * tc) ** 2
        glint = np.exp(away2 * np.float32(-0.5 / _FLAKE_LOBE_RAD**2))
        return np.asarray(glint * np.float32(self._panel.flake * _FLAKE_LIGHT), np.float32)


def _flat_mirror(source: Source, camera_mm: tuple[float, float, float]) -> tuple[float, float]:
    share = camera_mm[2] / (camera_mm[2] + source.height_mm)
    row = camera_mm[0] + share * (source.row_mm - camera_mm[0])
    column = camera_mm[1] + share * (source.column_mm - camera_mm[1])
    return row, column
