"""From centrelines to marks: what stands out enough, is a line and no lobe or ripple, and of which kind."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.panel import edges, tuning
from defectmap.panel.background import Background
from defectmap.panel.candidates import Candidate, as_marks, centrelines, judge, without_doubles
from defectmap.panel.contrast import averaged, light_across
from defectmap.panel.detection_limit import faintest_um
from defectmap.panel.grain import grain_factor
from defectmap.panel.hotspot import halo_profile, other_lights
from defectmap.panel.measurement import Hotspot, Mark, Polarity, Sharpening
from defectmap.panel.noise import stabilise
from defectmap.panel.paths import Path, Paths, lengths_px, normals, radii_px, resample, smooth
from defectmap.panel.ridges import kernel_bank, line_response, narrow_bank, ridge_points
from defectmap.panel.threads import in_pairs
from defectmap.panel.traces import trace
from defectmap.panel.zone import able


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Findings:
    """What was found in the zone."""

    marks: list[Mark]  # every line, of the standard (`standard.by_standard`) or fainter
    sharpening: Sharpening | None  # taken back in the marks' equivalent width
    ring_arcs: list[Path]  # pieces of rings too tight for a mark
    grain: Background  # `grain.grain_factor`
    faintest: Background  # `detection_limit.faintest_um`
    zone: NDArray[np.bool_]  # (H, W) where a mark of the standard shows
    stable: NDArray[np.float32]  # (h, w) light in units of pixel noise, on the copy that was traced
    shrink: int  # how many times smaller that copy is
    edges: NDArray[np.bool_] | None  # (H, W) bands along gaps, tape and trim, to be taken out of the zone
    round_share: float | None  # of bright length that runs round a lamp; None for too few lines to tell
    lamps: int  # reflected in the picture, the hotspot's own included
    texture_px: int  # area where lines crowd in every direction, taken out as well

    @property
    def counted(self) -> NDArray[np.bool_]:
        """(H, W) the zone without the bands along edges."""
        return self.zone if self.edges is None else self.zone & ~self.edges


def find_marks(
    luminance: NDArray[np.float32],
    back: Background,
    hotspot: Hotspot,
    inside: NDArray[np.bool_],
    *,
    gain: float,
    px_per_mm: float | None,
    least_contrast: float = 0.0,
) -> Findings:
    """Every line that stands out of the grain of the picture along at least 1 mm.

    Parameters
    ----------
    luminance : (H, W) float32 ndarray
        Linear light 0..1.
    back : Background
        Light without marks.
    inside : (H, W) bool ndarray
        Zone; nothing is traced outside.
    gain : float
        See `noise.noise_gain`.
    px_per_mm : float or None
        None where unknown; lengths then are in px.
    least_contrast : float
        Contrast, in noise of a pixel, that a line must have in any case, see `candidates.judge`.

    Returns
    -------
    Findings
        Marks, strongest first, and what is no mark.
    """
    scale = px_per_mm or tuning.TYPICAL_PX_PER_MM
    shrink = _tracing_shrink(luminance.size, px_per_mm)
    small, small_inside = _shrunk(luminance, shrink), _shrunk_mask(inside, shrink)
    # averaging shrink² pixels divides the noise by `shrink`
    stable = stabilise(small, gain=gain) * np.float32(shrink)
    bright, dark = line_response(stable, bank=kernel_bank() if shrink == 1 else narrow_bank())
    white = tuning.WHITE_NOISE_QUARTILE if shrink == 1 else tuning.WHITE_NOISE_QUARTILE_NARROW
    grain = grain_factor(bright, dark, back, small_inside, gain=gain, white_quartile=white)
    faintest = faintest_um(back, grain, gain=gain, px_per_mm=scale)
    zone = able(inside, faintest)
    small_inside = _shrunk_mask(zone, shrink)
    floor = np.float32(tuning.CREST_FROM * white) * grain.full(small.shape)
    np.maximum(floor, np.float32(tuning.CREST_SHARE * least_contrast), out=floor)

    def search(polarity: Polarity) -> list[Candidate]:
        response, other = (bright, dark) if polarity == "bright" else (dark, bright)
        paths = _trace_response(response, other, floor, small_inside, shrink=shrink, scale=scale)
        full = _full_size(paths, shrink, luminance, polarity)
        return judge(
            full, luminance, grain, zone, gain=gain, polarity=polarity, scale=scale, floor=least_contrast
        )

    ways: tuple[Polarity, ...] = ("bright", "dark")
    candidates = [c for some in in_pairs(search, ways) for c in some]
    lines = without_doubles(candidates, luminance.shape, scale=scale)
    found = _sort_out(lines, back, hotspot, scale=scale, shape=luminance.shape)
    marks, done = as_marks(found.lines, luminance, px_per_mm=px_per_mm or 1.0, scale=scale)
    return Findings(
        marks=marks,
        sharpening=done,
        ring_arcs=found.arcs,
        grain=grain,
        faintest=faintest,
        zone=zone,
        stable=stable,
        shrink=shrink,
        edges=found.bands,
        round_share=found.round_share,
        lamps=found.lamps,
        texture_px=found.texture_px,
    )


def _trace_response(
    response: NDArray[np.float32],
    other: NDArray[np.float32],
    floor: NDArray[np.float32],
    inside: NDArray[np.bool_],
    *,
    shrink: int,
    scale: float,
) -> Paths:
    """Paths along the crests of one polarity's response, in px of the copy that was filtered."""
    # at full size the evidence tells a line from the lobe beside another; on a copy lobes lie too far out
    lobe = np.ones((tuning.LOBE_NEAR_COPY_PX if shrink > 1 else tuning.LOBE_NEAR_PX,) * 2, np.uint8)
    least = np.asarray(cv2.dilate(other, lobe), np.float32)
    least *= np.float32(tuning.LOBE_SHARE)
    np.maximum(least, floor, out=least)
    wanted = response > least
    wanted &= inside
    found = ridge_points(response, wanted)
    sure = found.response / floor[tuple(found.pixels.T)]
    return trace(
        found,
        sure,
        shape=response.shape,
        gap_px=max(tuning.GAP_PX / shrink, tuning.LEAST_GAP_PX),
        shortest_px=tuning.SHORTEST_PATH_MM * scale / shrink,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sorted:
    """Lines that are marks, and what the others say."""

    lines: list[Candidate]
    arcs: list[Path]
    bands: NDArray[np.bool_] | None
    round_share: float | None
    lamps: int
    texture_px: int


def _sort_out(
    lines: list[Candidate], back: Background, hotspot: Hotspot, *, scale: float, shape: tuple[int, ...]
) -> _Sorted:
    """Part marks from pieces of rings, edges, texture, and bright lines that no lamp here could light."""
    tight = radii_px(centrelines(lines)) < tuning.TIGHT_RING_MM * scale
    arcs = [c.points for c, ring in zip(lines, tight, strict=True) if ring]
    lines = [c for c, ring in zip(lines, tight, strict=True) if not ring]
    halo = halo_profile(back, hotspot)
    bands = edges.edge_bands([(c.points, c.evidence) for c in lines], halo, hotspot, scale=scale, shape=shape)
    lines = _outside(lines, bands)
    # a lamp out of the frame says nothing of directions
    lamps = [
        lamp
        for lamp in (hotspot, *other_lights(back, hotspot, halo))
        if 0 <= lamp.row < shape[0] and 0 <= lamp.column < shape[1]
    ]
    if not lamps:
        return _Sorted(lines=lines, arcs=arcs, bands=bands, round_share=None, lamps=0, texture_px=0)
    bright = [c for c in lines if c.polarity == "bright"]
    off = edges.off_tangent_deg(centrelines(bright), lamps)
    sure = np.array([c.strength >= tuning.SURE_CONTRAST for c in bright], dtype=bool)
    crowd = edges.crowds(centrelines(bright).keep(sure), off[sure], scale=scale, shape=shape)
    if crowd is not None:
        sure &= ~_mostly_in(centrelines(bright), crowd)
    share = edges.round_share(off[sure], lengths_px(centrelines(bright))[sure])
    glints = dict(zip(map(id, bright), edges.can_glint(off).tolist(), strict=True))
    kept = _outside([c for c in lines if glints.get(id(c), True)], crowd)
    if crowd is not None and arcs:
        arcs = [
            arc for arc, hidden in zip(arcs, _mostly_in(Paths.of(arcs), crowd), strict=True) if not hidden
        ]
    return _Sorted(
        lines=kept,
        arcs=arcs,
        bands=crowd if bands is None else bands if crowd is None else bands | crowd,
        round_share=share,
        lamps=len(lamps),
        texture_px=0 if crowd is None else int(crowd.sum()),
    )


def _outside(lines: list[Candidate], mask: NDArray[np.bool_] | None) -> list[Candidate]:
    """Lines of which at least half lies outside a mask."""
    if mask is None:
        return lines
    return [c for c, hidden in zip(lines, _mostly_in(centrelines(lines), mask), strict=True) if not hidden]


def _tracing_shrink(pixels: int, px_per_mm: float | None) -> int:
    """How many times smaller the copy is that lines are traced on: about the same px a mm for every phone."""
    by_size = int(np.ceil(np.sqrt(pixels / (tuning.MAX_TRACING_MEGAPIXELS * 1e6))))
    return max(1, by_size, round(px_per_mm / tuning.TRACING_PX_PER_MM) if px_per_mm else 1)


def _shrunk(luminance: NDArray[np.float32], shrink: int) -> NDArray[np.float32]:
    if shrink == 1:
        return luminance
    height, width = luminance.shape
    size = (width // shrink, height // shrink)
    cropped = luminance[: size[1] * shrink, : size[0] * shrink]
    return np.asarray(cv2.resize(cropped, size, interpolation=cv2.INTER_AREA), np.float32)


def _shrunk_mask(inside: NDArray[np.bool_], shrink: int) -> NDArray[np.bool_]:
    height, width = (length // shrink * shrink for length in inside.shape)
    return np.ascontiguousarray(inside[:height:shrink, :width:shrink])


def _full_size(paths: Paths, shrink: int, luminance: NDArray[np.float32], polarity: Polarity) -> Paths:
    """Smooth, bring to full size, and there settle on the middle of the light."""
    if shrink == 1:
        return resample(smooth(resample(paths)))
    small = smooth(paths, window_px=tuning.SMOOTH_COPY_PX)
    rough = resample(Paths(small.points * shrink + (shrink - 1) / 2, small.lengths))
    return smooth(_centred(rough, luminance, polarity))


def _centred(paths: Paths, luminance: NDArray[np.float32], polarity: Polarity) -> Paths:
    """Move each point across its line to the centroid of the light, averaged along 15 px."""
    across, offsets = normals(paths), np.arange(-tuning.CENTRE_HALF_PX, tuning.CENTRE_HALF_PX + 1)
    light = light_across(luminance, paths.points, across, offsets)
    profile = averaged(light if polarity == "bright" else -light, paths, window_px=tuning.CENTRE_ALONG_PX)
    above = np.maximum(profile[:, 1:-1] - 0.5 * (profile[:, :1] + profile[:, -1:]), 0) ** 2
    shift = (above * offsets[1:-1]).sum(1) / np.maximum(above.sum(1), 1e-12)
    shift = averaged(
        np.clip(shift, -tuning.CENTRE_MOST_PX, tuning.CENTRE_MOST_PX),
        paths,
        window_px=tuning.CENTRE_SMOOTH_PX,
    )
    return Paths(paths.points + shift[:, None] * across, paths.lengths)


def _mostly_in(paths: Paths, mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(P,) whether more than half of each line lies in a mask."""
    places = np.round(paths.points).astype(int)
    inside = np.concatenate([[0], np.cumsum(mask[places[:, 0], places[:, 1]])])
    return np.asarray(inside[paths.starts + paths.lengths] - inside[paths.starts] > 0.5 * paths.lengths)
