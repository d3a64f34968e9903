"""From frames that lie on each other to one measurement: lines joined, zone, figures, directions, picture."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film import tuning
from defectmap.film.blindness import blind_places
from defectmap.film.choosing import Reason
from defectmap.film.directions import LampPlace, Rose, rose
from defectmap.film.film_cautions import film_cautions
from defectmap.film.framing import scale_for_windows
from defectmap.film.fusing import fuse
from defectmap.film.homography import transform
from defectmap.film.joining import join
from defectmap.film.looking import FilmLook
from defectmap.film.pieces import gather
from defectmap.film.reading import Source
from defectmap.film.registering import Registered
from defectmap.film.rereading import reread
from defectmap.film.scaling import FilmScale
from defectmap.film.strongest import Lines, line_marks, strongest
from defectmap.panel.finish import densities
from defectmap.panel.measurement import DetectionLimit, FilmFacts, Mark, MarkKind, PanelMeasurement, Scale
from defectmap.panel.standard import by_standard, spectrum
from defectmap.panel.tuning import SEEN_FROM, STANDARD_LENGTH_MM


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FilmMeasurement:
    """A film measured: figures as of a photograph, and what only a film has."""

    panel: PanelMeasurement  # its `film` says which frames were used
    lines: Lines  # every line of the map with its strength in each frame, for comparing
    line_kinds: tuple[MarkKind, ...]  # of each line
    lamps: tuple[LampPlace, ...]  # of each frame used, on the map
    rose: Rose  # which directions could be shown, and where
    fused: NDArray[np.uint8]  # (h, w) `fusing.fuse`, no wider than `tuning.FUSED_WIDTH_PX`
    window_scale: float  # pixels a millimetre, or what is taken for it

    @property
    def fused_rgb(self) -> NDArray[np.uint8]:
        """(H, W, 3) the fused light in grey, in the size of a frame."""
        height, width = self.panel.zone.shape
        large = cv2.resize(self.fused, (width, height), interpolation=cv2.INTER_LINEAR)
        return np.asarray(cv2.cvtColor(large, cv2.COLOR_GRAY2RGB), np.uint8)


def assemble(
    film: Source, looked: FilmLook, laid: Registered, *, scale: FilmScale, left_out: Mapping[int, Reason]
) -> FilmMeasurement:
    """Join the lines of all frames and put every figure together.

    Parameters
    ----------
    left_out : mapping
        Reason for each frame that is not used.
    """
    of_map = scale.of_map(laid)
    window = scale_for_windows(of_map.px_per_mm if of_map.calibrated else None)
    zone = _zone(laid, film.shape, card=scale.card_on_map(laid))
    pieces = gather([frame.marks for frame in laid.frames], laid.to_map)
    joined = join(pieces, shortest_px=STANDARD_LENGTH_MM * window)
    lamps = lamp_places(laid)
    lines = strongest(joined, pieces, frames=len(laid.frames))
    lines = reread(lines, laid.frames, laid.to_map, lamps, scale=window).inside(zone)
    found = rose(lamps, zone, cell_px=tuning.CELL_MM * window)
    facts = FilmFacts(
        frames=looked.seen,
        said_frames=film.said_frames,
        used=tuple(frame.number for frame in laid.frames),
        to_first=tuple(laid.to_map),
        sure_px=tuple(laid.sure_px),
        left_out=dict(Counter(left_out.values())),
        directions_share=found.share,
        by_hand=film.by_hand,
        blind=blind_places(found, lamps, film.shape),
        lamps=tuple((lamp.x, lamp.y) for lamp in lamps),
    )
    whole = line_marks(lines, px_per_mm=of_map.px_per_mm, scale=window)
    return FilmMeasurement(
        panel=_panel(film, laid, facts, zone, _standard(whole, of_map, window)),
        lines=lines,
        line_kinds=tuple(mark.kind for mark in whole),
        lamps=tuple(lamps),
        rose=found,
        fused=fuse([frame.glints for frame in laid.frames], laid.to_map, film.shape),
        window_scale=window,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Standard:
    """Marks of the standard and fainter ones, and the scale they are told in."""

    scale: Scale
    marks: list[Mark]
    faint: list[Mark]
    window: float

    @property
    def mm(self) -> float:
        """One millimetre, in the unit of lengths."""
        return self.window / self.scale.px_per_mm


def _standard(whole: list[Mark], scale: Scale, window: float) -> _Standard:
    marks, faint = by_standard(whole, mm=window / scale.px_per_mm)
    return _Standard(scale, marks, faint, window)


def _panel(
    film: Source, laid: Registered, facts: FilmFacts, zone: NDArray[np.bool_], found: _Standard
) -> PanelMeasurement:
    """Figures as of a photograph; no score and no rings, which mean something of one lamp place only."""
    area_cm2 = float(zone.sum()) / found.scale.px_per_mm**2 / 100
    scratches = (mark.length_mm for mark in found.marks if mark.kind == "scratch")
    return PanelMeasurement(
        photo=film.facts,
        scale=found.scale,
        hotspot=replace(laid.frames[0].hotspot, row=facts.lamps[0][1], column=facts.lamps[0][0]),
        zone=zone,
        area_cm2=area_cm2,
        marks=tuple(found.marks),
        faint_marks=tuple(found.faint),
        spots=(),
        density=densities(found.marks, area_cm2=area_cm2),
        rings=(),
        longest_scratch_mm=max(scratches, default=0.0),
        haze=float(np.median([frame.haze for frame in laid.frames])),
        score=None,
        detection_limit=DetectionLimit(
            contrast_to_noise=SEEN_FROM, length_mm=STANDARD_LENGTH_MM * found.mm, contrast=math.nan
        ),
        strength=spectrum([*found.marks, *found.faint], area_cm2=area_cm2, mm=found.mm),
        warnings=film_cautions(facts, found.scale),
        film=facts,
    )


def lamp_places(laid: Registered) -> list[LampPlace]:
    """Where the hotspot of each frame lies on the map."""
    places = []
    for frame, homography in zip(laid.frames, laid.to_map, strict=True):
        x, y = transform(homography, np.array([[frame.hotspot.column, frame.hotspot.row]]))[0]
        places.append(LampPlace(x=float(x), y=float(y), radius_px=frame.hotspot.radius_px))
    return places


def _zone(laid: Registered, shape: tuple[int, int], *, card: NDArray[np.float64] | None) -> NDArray[np.bool_]:
    """Where several frames could show marks, on the map; the card is no paint."""
    step = tuning.ZONE_STEP
    rows, columns = max(1, shape[0] // step), max(1, shape[1] // step)
    grow = np.array([[step, 0, (step - 1) / 2], [0, step, (step - 1) / 2], [0, 0, 1.0]])
    lit = np.zeros((rows, columns), np.float32)
    for frame, homography in zip(laid.frames, laid.to_map, strict=True):
        small = np.linalg.inv(grow) @ homography @ grow
        lit += cv2.warpPerspective(frame.zone, small, (columns, rows), flags=cv2.INTER_NEAREST)
    enough = np.asarray(lit >= tuning.ZONE_FRAMES, np.uint8)
    whole = cv2.resize(enough, shape[::-1], interpolation=cv2.INTER_NEAREST)
    if card is not None:
        cv2.fillPoly(whole, [np.round(card).astype(np.int32)], 0)
    return np.asarray(whole > 0)
