"""All grooves of one photograph: their light, their picture, their truth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.phantom import camera
from tests.phantom.grooves import Groove
from tests.phantom.light import LightField
from tests.phantom.obstacles import Overlay
from tests.phantom.setup import Panel, Shot
from tests.phantom.strokes import Samples, Strips, draw, sampled, strip_light
from tests.phantom.view import View
from tests.phantom.visible import MIN_CNR, STANDARD_UM, VisiblePiece, contrast, pieces, running, total_blur_px

Floats = NDArray[np.floating[Any]]
Image = NDArray[np.float32]
Shown = tuple[tuple[VisiblePiece, ...], tuple[VisiblePiece, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grooved:
    """Grooves as seen in one view under one light."""

    grooves: tuple[Groove, ...]
    samples: Samples
    row: Floats  # (N,) px
    column: Floats
    strips: tuple[Strips, ...]
    flat: Floats  # (N,) coat's light beside the groove
    body: Floats  # (N,) light of a body of albedo 1
    view: View

    @classmethod
    def of(cls, grooves: Sequence[Groove], field: LightField, view: View) -> Grooved:
        """Work out the light at every place of every groove that is in the picture."""
        samples = sampled(grooves)
        row, column = view.to_px(samples.row_mm, samples.column_mm)
        width = np.array([g.width_mm for g in grooves])[samples.groove] if grooves else np.empty(0)
        slope = np.array([g.slope_rad for g in grooves])[samples.groove] if grooves else np.empty(0)
        # One sample beyond the frame, and half a groove's width, still reach into the picture.
        margin = 3 + view.px_per_mm * (0.16 + float(width.max(initial=0.0)))
        near = view.contains(row, column, margin)
        half = [(r.astype(np.float32), c.astype(np.float32)) for r, c in _half(field, samples)]
        sr, sc = (s.astype(np.float32) for s in field.surface_slopes(samples.row_mm, samples.column_mm))

        def light(pick: NDArray[np.int64], tilt_r: Floats, tilt_c: Floats) -> Floats:
            there = [(r[pick][:, None], c[pick][:, None]) for r, c in half]
            return field.of_slopes(there, tilt_r + sr[pick][:, None], tilt_c + sc[pick][:, None])

        strips = strip_light(
            samples, near, width_px=width * view.px_per_mm, slope_rad=slope, finest=field.finest, light=light
        )
        return cls(
            grooves=tuple(grooves),
            samples=samples,
            row=row,
            column=column,
            strips=tuple(strips),
            flat=field.of_slopes(half, sr, sc),
            body=field.body_light(samples.row_mm, samples.column_mm),
            view=view,
        )

    def onto(self, coat: Image) -> Image:
        """Coat's light with the grooves in it; crossings share the pixel instead of adding up beyond it."""
        cover, light = draw(
            self.samples,
            self.strips,
            to_px=self.view.to_px,
            px_per_mm=self.view.px_per_mm,
            size_px=self.view.size_px,
        )
        mixed: Image = coat * (1 - np.minimum(cover, 1)) + light / np.maximum(cover, 1)
        return mixed

    def visible(self, shot: Shot, panel: Panel, veil: Image, over: Overlay | None) -> Shown:
        """The pieces that this photograph shows, and those of the standard."""
        inside = self.view.contains(self.row, self.column)
        r = np.clip(np.rint(self.row), 0, self.view.size_px[0] - 1).astype(np.int64)
        c = np.clip(np.rint(self.column), 0, self.view.size_px[1] - 1).astype(np.int64)
        luma = np.array(camera.LUMA)
        level = self.flat + self.body * float(luma @ panel.body)
        keep = np.ones(len(level))
        if over is not None:
            keep = np.where(over.hides[r, c], 0.0, 1.0)
            level = level * keep + over.add[r, c] @ luma
        level = (level + veil[r, c]) * 2**shot.ev
        signed, um = np.zeros(len(level)), np.zeros(len(level))
        for group in self.strips:
            peak = contrast(group, self.flat[group.pick], blur_px=total_blur_px(shot.blur_px))
            beside = level[group.pick]
            seen = np.minimum(beside + peak * keep[group.pick] * 2**shot.ev, 1) - np.minimum(beside, 1)
            signed[group.pick] = seen / camera.noise_sd(beside, shot.iso)
            excess = (group.light - self.flat[group.pick, None]).mean(axis=1) * keep[group.pick] * 2**shot.ev
            um[group.pick] = 1000 * excess * group.width_px / shot.px_per_mm / beside
        signed[~inside], um[~inside] = 0, 0
        along = running(um, self.samples)
        shared = {"signed_cnr": signed, "um": um, "row_px": self.row, "column_px": self.column}
        return (
            pieces(self.grooves, self.samples, **shared, state=_state(signed, MIN_CNR)),
            pieces(self.grooves, self.samples, **shared, state=_state(along, STANDARD_UM)),
        )

    def in_frame_mm(self) -> dict[str, float]:
        """Length of groove inside the picture, by kind."""
        inside = self.view.contains(self.row, self.column)
        s = self.samples
        same = (np.diff(s.groove) == 0) & inside[1:] & inside[:-1]
        step = np.where(same, np.diff(s.along_mm), 0.0)
        kinds = np.array([g.kind for g in self.grooves])[s.groove[1:]] if len(step) else np.empty(0, str)
        return {str(k): float(step[kinds == k].sum()) for k in np.unique(kinds)}


def _state(value: Floats, least: float) -> NDArray[np.int64]:
    return np.where(np.abs(value) >= least, np.sign(value), 0).astype(np.int64)


def _half(field: LightField, samples: Samples) -> list[tuple[Floats, Floats]]:
    return field.half(samples.row_mm, samples.column_mm)
