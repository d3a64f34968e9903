"""Measure one photograph of a panel: the whole chain from file to figures."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import dust, scale, tuning
from defectmap.panel import hotspot as light
from defectmap.panel.background import Background, background
from defectmap.panel.cautions import cautions, refuse_no_panel, refuse_no_zone, refuse_pattern
from defectmap.panel.detection_limit import detection_limit, noise_seen
from defectmap.panel.finish import panel_figures
from defectmap.panel.focus import card_edge_px, focus_remarks, refuse_blur
from defectmap.panel.hidden import hidden_share, with_hidden
from defectmap.panel.marks import Findings, find_marks
from defectmap.panel.measurement import Hotspot, Mark, PanelMeasurement, SpotDefect
from defectmap.panel.noise import gain_shown, noise_gain
from defectmap.panel.photo import photograph as photo
from defectmap.panel.standard import by_standard, spectrum
from defectmap.panel.threads import both
from defectmap.panel.zone import lit_zone
from defectmap.words.remark import Remark


def measure(
    source: str | Path | bytes | photo.Photo,
    *,
    px_per_mm: float | None = None,
    field_width_mm: float | None = None,
    name: str | None = None,
) -> PanelMeasurement:
    """Measure the marks in one photograph of a panel under an inspection light.

    Parameters
    ----------
    source : str, Path, bytes or Photo
        File name, bytes of a file, or a photograph that was already loaded.
    px_per_mm : float, optional
        Pixels for a millimetre of panel, where known.
    field_width_mm : float, optional
        Millimetres of panel across the picture's width, as another way to give the scale.
    name : str, optional
        What to call the photograph.

    Returns
    -------
    PanelMeasurement
        With no scale given and no printed card found, `scale.source` is "none": lengths are in px and
        densities relative.

    Raises
    ------
    PhotoError
        The photograph cannot be measured; the message says why and what to do.
    ScaleError
        The scale given cannot be right.
    """
    shot = source if isinstance(source, photo.Photo) else photo.load(source, name=name)
    resolved = scale.resolve(shot, px_per_mm=px_per_mm, field_width_mm=field_width_mm)
    seen = _see(shot, resolved)
    _refuse(seen)
    return _told(seen, _remarks(seen))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Seen:
    """What one photograph shows, before it is judged."""

    shot: photo.Photo
    resolved: scale.ResolvedScale
    masked: NDArray[np.bool_] | None  # the card
    hotspot: Hotspot
    gain: float
    back: Background
    lit: NDArray[np.bool_]
    found: Findings
    zone: NDArray[np.bool_]
    lines: list[Mark]  # of the standard and fainter, with what neighbours hide
    spots: list[SpotDefect]

    @property
    def px_per_mm(self) -> float:
        """What lengths are divided by; 1 where the scale is unknown."""
        return self.resolved.scale.px_per_mm

    @property
    def typical(self) -> float:
        """Pixels a millimetre, a typical figure where the scale is unknown."""
        return self.px_per_mm if self.resolved.scale.calibrated else tuning.TYPICAL_PX_PER_MM


def _see(shot: photo.Photo, resolved: scale.ResolvedScale) -> _Seen:
    known = resolved.scale.px_per_mm if resolved.scale.calibrated else None
    typical = known or tuning.TYPICAL_PX_PER_MM
    masked = _card_mask(resolved.card, shot.luminance.shape)
    hotspot = light.find_hotspot(shot.luminance, name=shot.facts.name, masked=masked)
    gain, back = _amplification(shot), background(shot.luminance)
    lit = lit_zone(back, hotspot, masked=masked)
    found, _ = both(
        lambda: find_marks(shot.luminance, back, hotspot, lit, gain=gain, px_per_mm=known),
        lambda: refuse_pattern(shot.luminance, lit, name=shot.facts.name),
    )
    zone = found.counted
    lines, spots = both(
        lambda: with_hidden(found.marks, zone, scale=typical),
        lambda: _spots(found, zone, scale=typical, px_per_mm=resolved.scale.px_per_mm),
    )
    return _Seen(
        shot=shot,
        resolved=resolved,
        masked=masked,
        hotspot=hotspot,
        gain=gain,
        back=back,
        lit=lit,
        found=found,
        zone=zone,
        lines=lines,
        spots=spots,
    )


def _refuse(seen: _Seen) -> None:
    """Raise `PhotoError` for what is no panel, shows too little of it, or is blurred."""
    name = seen.shot.facts.name
    refuse_no_panel(seen.found, name=name)
    refuse_no_zone(seen.found, seen.lit, seen.back, scale=seen.typical, gain=seen.gain, name=name)
    refuse_blur(
        seen.shot.luminance,
        seen.found.marks,
        seen.hotspot,
        seen.zone,
        gain=seen.gain,
        scale=seen.typical,
        px_per_mm=seen.px_per_mm,
        name=name,
    )


def _remarks(seen: _Seen) -> list[Remark]:
    """What makes the figures less sure, beside how much is hidden."""
    edge_px = card_edge_px(seen.shot.luminance, seen.resolved.card)
    iso, gain, found = seen.shot.facts.iso, seen.gain, seen.found
    smooth = gain >= tuning.HIGH_GAIN and float(np.median(found.grain.blocks)) < tuning.TOO_SMOOTH
    contradicted = iso and (smooth or gain < noise_gain(iso))
    return [
        *seen.shot.warnings,
        *([] if iso else [_untold(gain)]),
        *seen.resolved.warnings,
        *focus_remarks(seen.lines, card_edge_px=edge_px, scale=seen.typical, px_per_mm=seen.px_per_mm),
        *cautions(found, seen.lit, seen.hotspot, seen.back, scale=seen.typical, gain=gain),
        *([Remark(code="iso-contradicted", values={"iso": iso})] if contradicted else []),
    ]


def _told(seen: _Seen, remarks: list[Remark]) -> PanelMeasurement:
    """Count, and put the measurement together."""
    mm = seen.typical / seen.px_per_mm
    marks, faint = by_standard(seen.lines, mm=mm)
    hidden = hidden_share(marks)
    if hidden > tuning.CROWDED:
        remarks = [*remarks, Remark(code="crowded", values={"share": hidden})]
    haze = light.haze(seen.back, seen.hotspot, masked=seen.masked)
    figures = panel_figures(marks, seen.spots, seen.zone, seen.hotspot, haze=haze, px_per_mm=seen.px_per_mm)
    unseen = not marks and any(remark.code == "noisy" for remark in remarks)
    return PanelMeasurement(
        photo=seen.shot.facts,
        scale=seen.resolved.scale,
        hotspot=seen.hotspot,
        zone=seen.zone,
        area_cm2=figures.area_cm2,
        marks=tuple(marks),
        spots=tuple(seen.spots),
        density=figures.density,
        rings=figures.rings,
        longest_scratch_mm=figures.longest_scratch_mm,
        haze=haze,
        score=figures.score if seen.resolved.scale.calibrated and not unseen else None,
        sharpening=seen.found.sharpening,
        faint_marks=tuple(faint),
        strength=spectrum(seen.lines, area_cm2=figures.area_cm2, mm=mm),
        detection_limit=detection_limit(
            seen.back,
            noise_seen(seen.back, seen.found.grain, gain=seen.gain),
            seen.found.faintest,
            seen.zone,
            length=tuning.LEAST_LENGTH_MM * mm,
        ),
        warnings=tuple(remarks),
    )


def _spots(found: Findings, zone: NDArray[np.bool_], *, scale: float, px_per_mm: float) -> list[SpotDefect]:
    """Water spots and dust."""
    return dust.water_spots(found.ring_arcs, scale=scale, px_per_mm=px_per_mm) + dust.dust(
        found.stable,
        zone,
        grain=found.grain,
        lines=dust.paths_of(found.marks, found.ring_arcs),
        shrink=found.shrink,
        scale=scale,
        px_per_mm=px_per_mm,
    )


def _card_mask(card: NDArray[np.float64] | None, shape: tuple[int, ...]) -> NDArray[np.bool_] | None:
    if card is None:
        return None
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(card[:, ::-1]).astype(np.int32)], 1)
    return cv2.dilate(mask, np.ones((tuning.CARD_MASK_PX,) * 2, np.uint8)) > 0


def _amplification(shot: photo.Photo) -> float:
    """Gain against ISO 100: what the file tells, unless the picture shows far too little grain for it."""
    if not shot.facts.iso:
        return gain_shown(shot.luminance)
    tag = noise_gain(shot.facts.iso)
    return (
        tag
        if tag <= tuning.MOST_HIDDEN_GAIN
        else min(tag, tuning.MOST_HIDDEN_GAIN * gain_shown(shot.luminance))
    )


def _untold(gain: float) -> Remark:
    return (
        Remark(code="iso-untold", values={"iso": 100 * gain}) if gain > 1 else Remark(code="iso-untold-clean")
    )
