"""From centrelines to marks: what stands out enough, is a line and no lobe or ripple, and of which kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap import edges
from defectmap.evidence import HALF_PROFILE_PX, Evidence, gather, normals, running_contrast, width_px
from defectmap.light import Background, halo_profile, other_lights
from defectmap.noise import stabilise
from defectmap.results import Hotspot, Mark, MarkKind, Polarity
from defectmap.ridges import kernel_bank, line_response, ridge_points, sample
from defectmap.traces import Path, extend, polyline_length_px, radius_mm, resample, smooth, trace
from defectmap.zone import (
    LIMIT_CONTRAST_TO_NOISE,
    WHITE_NOISE_QUARTILE,
    WHITE_NOISE_QUARTILE_NARROW,
    texture_factor,
)

LEAST_LENGTH_MM = 1.0
_LEAST_LENGTH_PX = 15
UNCALIBRATED_PX_PER_MM = 20.0  # what a typical photograph has; sets windows where no scale is known
_THRESHOLD = 1.05  # a traced path seeks the crest of the noise with the line: calibrated on rendered panels
_WINDOW_MM = 1.4  # running median along a line
_SIGNIFICANCE = 3.0  # contrast over texture, times the root of the length in 20 px
_SLIM_PX = 3.8  # wider lines must be longer: ripples of orange peel are short and wide
_LENGTH_PER_WIDTH = 60.0  # px of length for each px of width beyond
_RESPONSE_FLOOR = 1.6  # of crest points, in units of pixel noise
_TEXTURE_SHARE = 1.15  # crest points must also reach this share of the texture
_LOBE_SHARE = 0.6  # of a stronger line of the other polarity close by
_EXTEND_PX = 20
_STRAIGHT_MM = 500.0  # radius beyond which a line counts as straight
_RING_MM = 4.5  # lines bent tighter are pieces of rings
_SCRATCH_MM2 = 3500.0  # length times radius of bend, see `kind_of`
MAX_TRACING_MEGAPIXELS = 6.0  # larger photographs are traced on a copy, then read at full size


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Candidate:
    polarity: Polarity
    points: Path
    evidence: Evidence
    strength: float  # median contrast to noise


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
    across = 1.5 if shrink == 1 else 1.0
    # averaging shrink² pixels divides the noise by `shrink`
    stable = stabilise(small, gain=gain) * np.float32(shrink)
    bright, dark = line_response(stable, bank=kernel_bank(across_px=across))
    white = WHITE_NOISE_QUARTILE if shrink == 1 else WHITE_NOISE_QUARTILE_NARROW
    texture = texture_factor(bright, dark, back, small_inside, white_quartile=white)
    floor = np.maximum(_RESPONSE_FLOOR, _TEXTURE_SHARE * texture.full(small.shape))
    # at full size the evidence tells a line from the lobe beside another; lobes on a copy lie too far out
    # for it
    lobe = np.ones((9, 9) if shrink > 1 else (3, 3), np.uint8)
    pairs: tuple[tuple[Polarity, NDArray[np.float32], NDArray[np.float32]], ...] = (
        ("bright", bright, np.asarray(cv2.dilate(dark, lobe), np.float32)),
        ("dark", dark, np.asarray(cv2.dilate(bright, lobe), np.float32)),
    )
    candidates: list[_Candidate] = []
    for polarity, response, other in pairs:
        wanted = (response > np.maximum(floor, _LOBE_SHARE * other)) & small_inside
        found = ridge_points(response, wanted)
        paths = trace(found, shape=small.shape, gap_px=max(40 / shrink, 12), shortest_px=0.7 * scale / shrink)
        candidates += _judge(
            _full_size(paths, shrink, luminance, polarity),
            luminance,
            texture,
            inside,
            gain=gain,
            polarity=polarity,
            scale=scale,
        )
    lines = _without_doubles(candidates, luminance.shape)
    halo = halo_profile(back, hotspot)
    arcs = [c for c in lines if radius_mm(c.points / scale) < _RING_MM]
    lines = [c for c in lines if radius_mm(c.points / scale) >= _RING_MM]
    edge_mask = edges.edge_bands(
        [(c.points, c.evidence) for c in lines], halo, hotspot, scale=scale, shape=luminance.shape
    )
    height, width = luminance.shape
    lamps = [
        lamp
        for lamp in (hotspot, *other_lights(back, hotspot))
        if 0 <= lamp.row < height
        and 0 <= lamp.column < width  # out of the frame, it says nothing of directions
    ]
    lines = [c for c in lines if not _mostly_in(c.points, edge_mask)]
    bright_lines = [c.points for c in lines if c.polarity == "bright"]
    lines = [c for c in lines if c.polarity == "dark" or not lamps or edges.can_glint(c.points, lamps)]
    return Findings(
        marks=_marks(lines, px_per_mm or 1.0, scale),
        ring_arcs=[c.points for c in arcs],
        texture=texture,
        stable=stable,
        shrink=shrink,
        edges=edge_mask,
        lit_like_marks=edges.run_round_the_lamp(bright_lines, lamps),
    )


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
    rough = [resample(smooth(resample(p), window_px=5) * shrink + (shrink - 1) / 2) for p in paths]
    return [resample(smooth(p)) for p in _centred(rough, luminance, polarity)]


def _centred(paths: list[Path], luminance: NDArray[np.float32], polarity: Polarity) -> list[Path]:
    """Move each point across its path to the centroid of the line, averaged along 15 px."""
    from scipy.ndimage import uniform_filter1d

    if not paths:
        return []
    across = normals(paths)
    offsets = np.arange(-5, 6)
    places = np.concatenate(paths)[:, None] + offsets[None, :, None] * across[:, None]
    light = sample(luminance, places.reshape(-1, 2)).reshape(-1, len(offsets))
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


def _judge(
    paths: list[Path],
    luminance: NDArray[np.float32],
    texture: Background,
    inside: NDArray[np.bool_],
    *,
    gain: float,
    polarity: Polarity,
    scale: float,
) -> list[_Candidate]:
    """Cut paths where the contrast falls below the limit, and keep pieces long and sure enough."""
    paths, traced = _extended(paths, inside)
    window = max(15, round(_WINDOW_MM * scale)) | 1
    shortest = max(_LEAST_LENGTH_PX, LEAST_LENGTH_MM * scale)
    kept = []
    for path, own, evidence in zip(
        paths, traced, gather(luminance, paths, gain=gain, polarity=polarity), strict=True
    ):
        contrast = running_contrast(evidence, window_px=window)
        for start, stop in _runs(contrast >= LIMIT_CONTRAST_TO_NOISE * _THRESHOLD):
            piece = slice(start, stop)
            sure = own[piece]
            if stop - start < shortest or sure.sum() < 0.8 * shortest:
                continue
            values = evidence.contrast_to_noise[piece]
            hump = max(0.0, float(np.median(evidence.hump[piece][sure])))
            ripple = float(np.median(sample(texture.blocks, _on_blocks(path[piece][sure], texture))))
            if stop - start < _LENGTH_PER_WIDTH * (width_px(evidence.profile[piece], polarity) - _SLIM_PX):
                continue
            excess = (float(np.median(values[sure])) - hump) / ripple
            if excess * np.sqrt(sure.sum() / 20) >= _SIGNIFICANCE:
                kept.append(
                    _Candidate(
                        polarity=polarity,
                        points=path[piece],
                        evidence=_part(evidence, piece),
                        strength=float(np.median(values)),
                    )
                )
    return kept


def _extended(paths: list[Path], inside: NDArray[np.bool_]) -> tuple[list[Path], list[NDArray[np.bool_]]]:
    """Go on beyond both ends, where the filters fade before the line does, but never out of the zone."""
    longer, own = [], []
    for path in paths:
        whole = extend(path, by_px=_EXTEND_PX)
        traced = np.zeros(len(whole), bool)
        traced[_EXTEND_PX:-_EXTEND_PX] = True
        places = np.round(whole).astype(int)
        within: NDArray[np.bool_] = np.all((places >= 0) & (places < inside.shape), axis=1)
        within[within] = inside[tuple(places[within].T)]
        runs = _runs(within)
        if runs:
            start, stop = max(runs, key=lambda r: r[1] - r[0])
            if stop - start >= _LEAST_LENGTH_PX:
                longer.append(whole[start:stop])
                own.append(traced[start:stop])
    return longer, own


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Start and stop of each run of true values."""
    edges = np.diff(np.concatenate([[0], flags.astype(np.int8), [0]]))
    return list(zip(np.nonzero(edges > 0)[0].tolist(), np.nonzero(edges < 0)[0].tolist(), strict=True))


def _part(evidence: Evidence, piece: slice) -> Evidence:
    return Evidence(
        left=evidence.left[piece],
        right=evidence.right[piece],
        hump=evidence.hump[piece],
        surround=evidence.surround[piece],
        profile=evidence.profile[piece],
    )


def _on_blocks(points: Path, back: Background) -> Path:
    return (points - (back.block_px - 1) / 2) / back.block_px


def _without_doubles(candidates: list[_Candidate], shape: tuple[int, ...]) -> list[_Candidate]:
    """Drop a path that runs along a stronger one for most of its length."""
    taken = np.zeros(shape, np.uint8)
    kept = []
    for candidate in sorted(candidates, key=lambda c: -c.strength * min(len(c.points), 100)):
        places = np.round(candidate.points).astype(int)
        if (taken[places[:, 0], places[:, 1]] > 0).mean() > 0.5:
            continue
        corners = np.round(candidate.points[:, ::-1] * 16).astype(np.int32)
        cv2.polylines(taken, [corners], False, 1, 7, cv2.LINE_8, 4)
        kept.append(candidate)
    return kept


def _mostly_in(points: Path, mask: NDArray[np.bool_]) -> bool:
    places = np.round(points).astype(int)
    return bool(mask[places[:, 0], places[:, 1]].mean() > 0.5)


def _marks(candidates: list[_Candidate], px_per_mm: float, scale: float) -> list[Mark]:
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
                width_mm=width_px(evidence.profile, candidate.polarity) / px_per_mm,
                contrast=float(np.median(contrast)),
                contrast_to_noise=candidate.strength,
            )
        )
    return marks


def kind_of(line_mm: Path) -> MarkKind:
    """Tell a scratch from a swirl mark by how long and how straight it is.

    Swirl marks come from washing and machine pads: short pieces of circles. What scratched the paint once ran
    long and straight. Length times radius of the bend parts them: the figure is fitted on rendered panels,
    where it puts about three quarters of the length of scratches and nine tenths of that of swirl marks in
    place.

    Parameters
    ----------
    line_mm : (N, 2) float64 ndarray
        At even distances along the line.
    """
    length = polyline_length_px(line_mm)
    return "scratch" if length * min(radius_mm(line_mm), _STRAIGHT_MM) > _SCRATCH_MM2 else "swirl"
