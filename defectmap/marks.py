"""From centrelines to marks: what stands out enough, is a line and no lobe or ripple, and of which kind."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap import edges
from defectmap.candidates import Candidate, judge, middle, without_doubles
from defectmap.evidence import HALF_PROFILE_PX, normals, profiles
from defectmap.light import Background, halo_profile, other_lights
from defectmap.noise import stabilise
from defectmap.results import Hotspot, Mark, MarkKind, Polarity
from defectmap.ridges import kernel_bank, line_response, ridge_points
from defectmap.traces import Path, polyline_length_px, radius_mm, resample, smooth, trace
from defectmap.zone import (
    WHITE_NOISE_QUARTILE,
    WHITE_NOISE_QUARTILE_NARROW,
    texture_factor,
)

UNCALIBRATED_PX_PER_MM = 20.0  # what a typical photograph has; sets windows where no scale is known
_RESPONSE_FLOOR = 1.6  # of crest points, in units of pixel noise
_RESPONSE_FLOOR_COPY = 3.0  # averaging raises a line over the noise
_TEXTURE_SHARE = 1.15  # crest points must also reach this share of the texture
_LOBE_SHARE = 0.6  # of a stronger line of the other polarity close by
_BENT_MM, _STRAIGHT_MM = 100.0, 300.0  # radius: below, never a scratch; above, as good as straight
_RING_MM = 4.5  # lines bent tighter are pieces of rings
_SCRATCH_MM2 = 3000.0  # length times radius of bend, see `kind_of`
MAX_TRACING_MEGAPIXELS = 6.0  # larger photographs are traced on a copy, then read at full size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Findings:
    """What was found in the zone."""

    marks: list[Mark]
    ring_arcs: list[Path]  # pieces of rings too tight for a mark
    texture: Background  # `zone.texture_factor`
    stable: NDArray[np.float32]  # (h, w) light in units of pixel noise, on the copy that was traced
    shrink: int  # how many times smaller that copy is
    edges: NDArray[np.bool_]  # (H, W) bands along panel gaps, tape and trim, to be taken out of the zone
    lit_like_marks: bool  # whether bright lines run round the lamp


def find_marks(
    luminance: NDArray[np.float32],
    back: Background,
    hotspot: Hotspot,
    inside: NDArray[np.bool_],
    *,
    gain: float,
    px_per_mm: float | None,
) -> Findings:
    """Every line that stands out at least 3 times the noise of one pixel along at least 1 mm.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    back : Background
        Light without marks.
    hotspot : Hotspot
    inside : (H, W) bool ndarray
        Zone; nothing is traced outside.
    gain : float
        See `noise.noise_gain`.
    px_per_mm : float or None
        None where unknown; lengths then are in px.

    Returns
    -------
    Findings
        Marks, strongest first, and what is no mark.
    """
    scale = px_per_mm or UNCALIBRATED_PX_PER_MM
    shrink = max(1, int(np.ceil(np.sqrt(luminance.size / (MAX_TRACING_MEGAPIXELS * 1e6)))))
    small, small_inside = _shrunk(luminance, inside, shrink)
    # averaging shrink² pixels divides the noise by `shrink`
    stable = stabilise(small, gain=gain) * np.float32(shrink)
    bright, dark = line_response(stable, bank=kernel_bank(across_px=1.5 if shrink == 1 else 1.0))
    white = WHITE_NOISE_QUARTILE if shrink == 1 else WHITE_NOISE_QUARTILE_NARROW
    texture = texture_factor(bright, dark, back, small_inside, white_quartile=white)
    lowest = _RESPONSE_FLOOR if shrink == 1 else _RESPONSE_FLOOR_COPY
    floor = np.maximum(np.float32(lowest), np.float32(_TEXTURE_SHARE) * texture.full(small.shape))

    def search(polarity: Polarity) -> list[Candidate]:
        response, other = (bright, dark) if polarity == "bright" else (dark, bright)
        paths = _trace_response(response, other, floor, small_inside, shrink=shrink, scale=scale)
        full = _full_size(paths, shrink, luminance, polarity)
        return judge(full, luminance, texture, inside, gain=gain, polarity=polarity, scale=scale)

    with ThreadPoolExecutor(2) as pool:  # the heavy steps let go of the interpreter's lock
        candidates = [c for found in pool.map(search, ("bright", "dark")) for c in found]
    lines = without_doubles(candidates, luminance.shape)
    kept, arcs, bands, lit = _sort_out(lines, back, hotspot, scale=scale, shape=luminance.shape)
    return Findings(
        marks=_marks(kept, px_per_mm or 1.0, scale),
        ring_arcs=arcs,
        texture=texture,
        stable=stable,
        shrink=shrink,
        edges=bands,
        lit_like_marks=lit,
    )


def _trace_response(
    response: NDArray[np.float32],
    other: NDArray[np.float32],
    floor: NDArray[np.float32],
    inside: NDArray[np.bool_],
    *,
    shrink: int,
    scale: float,
) -> list[Path]:
    """Paths along the crests of one polarity's response, in px of the copy that was filtered."""
    # at full size the evidence tells a line from the lobe beside another; on a copy lobes lie too far out
    lobe = np.ones((9, 9) if shrink > 1 else (3, 3), np.uint8)
    rivals = np.float32(_LOBE_SHARE) * np.asarray(cv2.dilate(other, lobe), np.float32)
    wanted = (response > np.maximum(floor, rivals)) & inside
    found = ridge_points(response, wanted)
    sure = found.response / floor[tuple(found.pixels.T)]
    return trace(
        found, sure, shape=response.shape, gap_px=max(40 / shrink, 12), shortest_px=0.7 * scale / shrink
    )


def _sort_out(
    lines: list[Candidate], back: Background, hotspot: Hotspot, *, scale: float, shape: tuple[int, ...]
) -> tuple[list[Candidate], list[Path], NDArray[np.bool_], bool]:
    """Part marks from pieces of rings, from edges, and from bright lines that no lamp here could light.

    Returns
    -------
    marks, ring arcs, bands along edges, whether bright lines run round the lamp
    """
    tight = [radius_mm(c.points / scale) < _RING_MM for c in lines]
    arcs = [c.points for c, ring in zip(lines, tight, strict=True) if ring]
    lines = [c for c, ring in zip(lines, tight, strict=True) if not ring]
    halo = halo_profile(back, hotspot)
    bands = edges.edge_bands([(c.points, c.evidence) for c in lines], halo, hotspot, scale=scale, shape=shape)
    lines = [c for c in lines if not _mostly_in(c.points, bands)]
    # a lamp out of the frame says nothing of directions
    lamps = [
        lamp
        for lamp in (hotspot, *other_lights(back, hotspot, halo))
        if 0 <= lamp.row < shape[0] and 0 <= lamp.column < shape[1]
    ]
    lit = edges.run_round_the_lamp([c.points for c in lines if c.polarity == "bright"], lamps)
    kept = [c for c in lines if c.polarity == "dark" or not lamps or edges.can_glint(c.points, lamps)]
    return kept, arcs, bands, lit


def _shrunk(
    luminance: NDArray[np.float32], inside: NDArray[np.bool_], shrink: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    if shrink == 1:
        return luminance, inside
    height, width = luminance.shape
    size = (width // shrink, height // shrink)
    cropped = luminance[: size[1] * shrink, : size[0] * shrink]
    mask = inside[: size[1] * shrink : shrink, : size[0] * shrink : shrink]
    smaller = cv2.resize(cropped, size, interpolation=cv2.INTER_AREA)
    return np.asarray(smaller, np.float32), np.ascontiguousarray(mask)


def _full_size(
    paths: Sequence[Path], shrink: int, luminance: NDArray[np.float32], polarity: Polarity
) -> list[Path]:
    """Smooth, bring to full size, and there settle on the middle of the light."""
    if shrink == 1:
        return [resample(smooth(resample(p))) for p in paths]
    rough = [resample(smooth(p, window_px=5) * shrink + (shrink - 1) / 2) for p in paths]
    return [smooth(p) for p in _centred(rough, luminance, polarity)]


def _centred(paths: list[Path], luminance: NDArray[np.float32], polarity: Polarity) -> list[Path]:
    """Move each point across its path to the centroid of the line, averaged along 15 px."""
    from scipy.ndimage import uniform_filter1d

    if not paths:
        return []
    across, offsets = normals(paths), np.arange(-5, 6)
    light = profiles(luminance, paths, across, half_px=5)
    light = light if polarity == "bright" else -light
    moved, start = [], 0
    for path in paths:
        rows = slice(start, start + len(path))
        start += len(path)
        profile = uniform_filter1d(light[rows], min(15, len(path)), axis=0, mode="nearest")
        above = np.maximum(profile[:, 1:-1] - 0.5 * (profile[:, :1] + profile[:, -1:]), 0) ** 2
        shift = (above * offsets[1:-1]).sum(1) / np.maximum(above.sum(1), 1e-12)
        shift = uniform_filter1d(np.clip(shift, -3, 3), min(9, len(path)), mode="nearest")
        moved.append(path + shift[:, None] * across[rows])
    return moved


def _mostly_in(points: Path, mask: NDArray[np.bool_]) -> bool:
    places = np.round(points).astype(int)
    return bool(mask[places[:, 0], places[:, 1]].mean() > 0.5)


def _marks(candidates: list[Candidate], px_per_mm: float, scale: float) -> list[Mark]:
    marks = []
    for candidate in candidates:
        evidence = candidate.evidence
        line = evidence.profile[:, HALF_PROFILE_PX - 1 : HALF_PROFILE_PX + 2].mean(1)
        contrast = np.abs(line - evidence.surround) / np.maximum(evidence.surround, 1e-4)
        marks.append(
            Mark(
                kind=kind_of(candidate.points / scale),
                polarity=candidate.polarity,
                points=candidate.points,
                length_mm=polyline_length_px(candidate.points) / px_per_mm,
                width_mm=candidate.width_px / px_per_mm,
                contrast=middle(contrast),
                contrast_to_noise=candidate.strength,
            )
        )
    return marks


def kind_of(line_mm: Path) -> MarkKind:
    """Tell a scratch from a swirl mark by how long and how straight it is.

    Swirl marks come from washing and machine pads: short pieces of circles. What scratched the paint once ran
    long and straight. Length times radius of the bend parts them: the figure is fitted on rendered panels,
    where it puts about four fifths of the length of scratches and nine tenths of that of swirl marks in
    place.

    Parameters
    ----------
    line_mm : (N, 2) float64 ndarray
        At even distances along the line.
    """
    length, radius = polyline_length_px(line_mm), radius_mm(line_mm)
    if radius > _BENT_MM and length * min(radius, _STRAIGHT_MM) > _SCRATCH_MM2:
        return "scratch"
    return "swirl"
