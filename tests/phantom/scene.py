"""A panel, a lamp and a camera: one photograph with its truth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.measurement import Hotspot, SpotDefect
from tests.phantom import camera
from tests.phantom.grooved import Grooved
from tests.phantom.grooves import Groove, lengths_mm, ring
from tests.phantom.light import LightField
from tests.phantom.obstacles import Overlay, overlay
from tests.phantom.setup import Panel, Shot
from tests.phantom.view import View
from tests.phantom.visible import VisiblePiece

Image = NDArray[np.float32]

_BASE_EXPOSURE_S = 1 / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Phantom:
    """A photograph and everything that is true of it."""

    luminance: Image  # (H, W) linear, noisy, clipped to 0..1
    clean: Image  # (H, W) linear, noise-free, clipped to 0..1
    rgb: NDArray[np.uint8]  # (H, W, 3) sRGB before the JPEG
    jpeg: bytes | None
    hotspot: (
        Hotspot  # exact mirror point of the main lamp; radius of a disc as large as the clean clipped area
    )
    visible: tuple[VisiblePiece, ...]
    standard: tuple[VisiblePiece, ...]  # pieces of the standard, whatever the camera could show
    spots: tuple[SpotDefect, ...]
    groove_mm: dict[str, float]  # all grooves, by kind
    groove_in_frame_mm: dict[str, float]  # the part of them inside the picture
    shot: Shot
    panel: Panel

    @property
    def visible_mm(self) -> float:
        """Total length of the visible pieces."""
        return math.fsum(piece.length_mm for piece in self.visible)


def photograph(
    grooves: Sequence[Groove] = (), shot: Shot | None = None, *, panel: Panel | None = None
) -> Phantom:
    """Photograph a panel with grooves under a lamp.

    Parameters
    ----------
    grooves : sequence of Groove
        On the panel; none gives a blank halo.
    shot : Shot, optional
        Lamp, camera, exposure, noise seed.
    panel : Panel, optional
        Paint, and what lies on it.

    Returns
    -------
    Phantom
        The same input gives the same photograph, bit for bit on one machine.

    Examples
    --------
    >>> photograph().visible_mm
    0.0
    """
    shot, panel = shot or Shot(), panel or Panel()
    view = View(
        size_px=shot.size_px, px_per_mm=shot.px_per_mm, offset_mm=shot.offset_mm, turn_deg=shot.turn_deg
    )
    field = LightField(shot, panel)
    drops, spots = _spots(shot, panel, view)
    grooved = Grooved.of([*grooves, *drops], field, view)
    coat, body = field.in_frame(view)
    veil = camera.veil(coat, shot.glare)
    over = _overlay(shot, panel, view, spots)
    light = _scene_light(grooved.onto(coat) if grooved.strips else coat, body, panel, over)
    light = (camera.blurred(light, shot.blur_px) + veil[..., None]) * np.float32(2**shot.ev)
    luma = light @ np.array(camera.LUMA, np.float32)
    clean, noise = np.clip(luma, 0, 1), _noise(luma, coat, shot)
    rgb = camera.sharpened(camera.encode_8bit(light + noise[..., None]), shot.sharpen)
    row, column = field.mirror_px(view)
    visible, standard = grooved.visible(shot, panel, veil, over)
    core = math.sqrt(float((clean >= 1).sum()) / math.pi)
    return Phantom(
        luminance=np.clip(luma + noise, 0, 1),
        clean=clean,
        rgb=rgb,
        jpeg=_jpeg(rgb, shot),
        hotspot=Hotspot(row=row, column=column, radius_px=core, lamps=shot.lamps),
        visible=visible,
        standard=standard,
        spots=spots,
        groove_mm={str(k): v for k, v in lengths_mm(grooves).items()},
        groove_in_frame_mm={k: v for k, v in grooved.in_frame_mm().items() if k != "water spot"},
        shot=shot,
        panel=panel,
    )


def _scene_light(coat: Image, body: Image, panel: Panel, over: Overlay | None) -> Image:
    light = coat[..., None] + body[..., None] * np.array(panel.body, np.float32)
    if over is not None:
        light *= over.keep[..., None]
        light += over.add
    return np.asarray(light, np.float32)


def _noise(luma: Image, coat: Image, shot: Shot) -> Image:
    """Noise before clipping; the three channels share it, as after demosaicing."""
    rng = np.random.default_rng([shot.seed, 7])
    noise = rng.standard_normal(luma.shape, dtype=np.float32) * camera.noise_sd(luma, shot.iso)
    if shot.grain > 0:
        speckle = np.random.default_rng([shot.seed, 10]).standard_normal(luma.shape, dtype=np.float32)
        noise += camera.blurred(speckle, shot.blur_px) * coat * np.float32(shot.grain * 2**shot.ev)
    return np.asarray(noise, np.float32)


def _jpeg(rgb: NDArray[np.uint8], shot: Shot) -> bytes | None:
    if shot.jpeg_quality is None:
        return None
    exposure_s = _BASE_EXPOSURE_S * 2**shot.ev * 100 / shot.iso
    return camera.jpeg_bytes(rgb, shot.jpeg_quality, iso=shot.iso, exposure_s=exposure_s, taken=shot.taken)


def _spots(shot: Shot, panel: Panel, view: View) -> tuple[list[Groove], tuple[SpotDefect, ...]]:
    """Rims of dried drops (tied to the panel), and every round thing in the picture."""
    rng = np.random.default_rng([panel.seed, 8])
    rims, spots = [], []
    for _ in range(panel.water_spots):
        place, diameter = rng.uniform(-0.5, 0.5, 2) * panel.size_mm, float(rng.uniform(2.0, 6.0))
        rims.append(ring((float(place[0]), float(place[1])), diameter_mm=diameter))
        row, column = view.to_px(place[:1], place[1:])
        if view.contains(row, column)[0]:
            spots.append(
                SpotDefect(
                    kind="water spot", row=float(row[0]), column=float(column[0]), diameter_mm=diameter
                )
            )
    rng = np.random.default_rng([shot.seed, 9])
    for _ in range(shot.dust):
        row_px, column_px = rng.uniform(-0.5, 0.5, 2) + rng.uniform(0.0, 1.0, 2) * (
            np.array(view.size_px) - 1
        )
        diameter = float(np.clip(0.15 * rng.lognormal(0.0, 0.5), 0.06, 0.6))
        spots.append(
            SpotDefect(kind="dust", row=float(row_px), column=float(column_px), diameter_mm=diameter)
        )
    return rims, tuple(spots)


def _overlay(shot: Shot, panel: Panel, view: View, spots: tuple[SpotDefect, ...]) -> Overlay | None:
    dust = [(s.row, s.column, s.diameter_mm / 2 * shot.px_per_mm) for s in spots if s.kind == "dust"]
    return overlay(
        panel.obstacles,
        np.array(dust, np.float64).reshape(-1, 3),
        to_px=view.to_px,
        px_per_mm=shot.px_per_mm,
        size_px=shot.size_px,
        half_mm=(shot.size_px[0] / shot.px_per_mm / 2, shot.size_px[1] / shot.px_per_mm / 2),
    )
