"""Measure one photograph of a panel: the whole chain from file to figures."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import dust, scale, tuning
from defectmap.panel import hotspot as light
from defectmap.panel.background import Background, background
from defectmap.panel.cautions import cautions, refuse_no_panel, refuse_no_zone, refuse_pattern
from defectmap.panel.finish import panel_figures
from defectmap.panel.focus import card_edge_px, focus_remarks, refuse_blur
from defectmap.panel.hidden import hidden_share, with_hidden
from defectmap.panel.marks import Findings, find_marks
from defectmap.panel.measurement import DetectionLimit, PanelMeasurement, SpotDefect
from defectmap.panel.noise import gain_shown, noise_gain, pixel_noise
from defectmap.panel.photo import photograph as photo
from defectmap.panel.standard import by_standard, spectrum
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
    masked = _card_mask(resolved.card, shot.luminance.shape)
    hotspot = light.find_hotspot(shot.luminance, name=shot.facts.name, masked=masked)
    ppm = resolved.scale.px_per_mm
    gain = _amplification(shot)
    back = background(shot.luminance)
    lit = lit_zone(back, hotspot, masked=masked)
    with ThreadPoolExecutor(1) as beside:  # OpenCV and NumPy let go of the interpreter's lock
        no_pattern = beside.submit(refuse_pattern, shot.luminance, lit, name=shot.facts.name)
        found = find_marks(
            shot.luminance,
            back,
            hotspot,
            lit,
            gain=gain,
            px_per_mm=ppm if resolved.scale.calibrated else None,
        )
        no_pattern.result()
        zone = found.zone if found.edges is None else found.zone & ~found.edges
        typical = ppm if resolved.scale.calibrated else tuning.TYPICAL_PX_PER_MM
        looking = beside.submit(_spots, found, zone, scale=typical, px_per_mm=ppm)
        lines = with_hidden(found.marks, zone, scale=typical)
        marks, faint = by_standard(lines, mm=typical / ppm)
        spots = looking.result()
    refuse_no_panel(found, name=shot.facts.name)
    refuse_no_zone(found, lit, back, scale=typical, gain=gain, name=shot.facts.name)
    refuse_blur(
        shot.luminance,
        found.marks,
        hotspot,
        zone,
        gain=gain,
        scale=typical,
        px_per_mm=ppm,
        name=shot.facts.name,
    )
    edge_px = card_edge_px(shot.luminance, resolved.card)
    remarks = [
        *focus_remarks(lines, card_edge_px=edge_px, scale=typical, px_per_mm=ppm),
        *cautions(found, lit, hotspot, back, scale=typical, gain=gain),
    ]
    hidden = hidden_share(marks)
    if hidden > tuning.CROWDED:
        remarks.append(Remark(code="crowded", values={"share": hidden}))
    smooth = gain >= tuning.HIGH_GAIN and float(np.median(found.grain.blocks)) < tuning.TOO_SMOOTH
    if shot.facts.iso and (smooth or gain < noise_gain(shot.facts.iso)):
        remarks.append(Remark(code="iso-contradicted", values={"iso": shot.facts.iso}))
    unseen = any(remark.code == "noisy" for remark in remarks)
    haze = light.haze(back, hotspot, masked=masked)
    figures = panel_figures(marks, spots, zone, hotspot, haze=haze, px_per_mm=ppm)
    return PanelMeasurement(
        photo=shot.facts,
        scale=resolved.scale,
        hotspot=hotspot,
        zone=zone,
        area_cm2=figures.area_cm2,
        marks=tuple(marks),
        spots=tuple(spots),
        density=figures.density,
        rings=figures.rings,
        longest_scratch_mm=figures.longest_scratch_mm,
        haze=haze,
        score=figures.score if resolved.scale.calibrated and (marks or not unseen) else None,
        faint_marks=tuple(faint),
        strength=spectrum(lines, area_cm2=figures.area_cm2, mm=typical / ppm),
        detection_limit=_detection_limit(
            found, back, zone, gain=gain, length=tuning.LEAST_LENGTH_MM * typical / ppm
        ),
        warnings=(
            *shot.warnings,
            *([] if shot.facts.iso else [_untold(gain)]),
            *resolved.warnings,
            *remarks,
        ),
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
    return cv2.dilate(mask, np.ones((15, 15), np.uint8)) > 0


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


def _detection_limit(
    found: Findings, back: Background, zone: NDArray[np.bool_], *, gain: float, length: float
) -> DetectionLimit:
    """Medians over the zone, or over the picture where no place is good enough."""
    inside = zone[:: back.block_px, :: back.block_px][: back.blocks.shape[0], : back.blocks.shape[1]]
    where = inside if inside.any() else np.ones_like(inside)
    relative = found.grain.blocks * pixel_noise(back.blocks, gain=gain) / np.maximum(back.blocks, 1e-4)
    return DetectionLimit(
        contrast_to_noise=tuning.SEEN_FROM,
        length_mm=length,
        contrast=tuning.SEEN_FROM * float(np.median(relative[where])),
        equivalent_width_um=float(np.median(found.faintest.blocks[where])),
    )
