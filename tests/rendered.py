"""Pictures with known answers for the tests of the measuring core, rendered once and kept."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from defectmap import measure
from defectmap.panel import hotspot as light
from defectmap.panel.background import Background, background
from defectmap.panel.marks import Findings, find_marks
from defectmap.panel.measurement import Hotspot, Mark, PanelMeasurement
from defectmap.panel.noise import noise_gain, pixel_noise
from defectmap.panel.zone import lit_zone
from tests.phantom import Groove, Line, Panel, Phantom, Shot, lines_on_flat, photograph, scratches, swirls

Picture = NDArray[np.float32]

LEVEL = 0.2  # linear light of plain paper
NOISE = float(pixel_noise(np.asarray(LEVEL, np.float32), gain=1.0))  # of one pixel there
WIDTH_PX = 0.95  # standard deviation across a line, that of a fine mark in a focused photograph
PX_PER_MM = 20.0
FAR_LAMP = Hotspot(row=-500.0, column=-500.0, radius_px=20.0, lamps=1)  # plain paper shows none
ORIENTATION, EXIF_IFD, ISO = 0x0112, 0x8769, 0x8827


def paper(
    lines: Sequence[NDArray[np.float64]] = (),
    *,
    cnr: float = 10.0,
    width_px: float = WIDTH_PX,
    size_px: tuple[int, int] = (400, 400),
    noise: float = 1.0,
    seed: int = 1,
) -> Picture:
    """Lines of `cnr` times the noise of a pixel (negative: dark) on paper with `noise` times that noise."""
    drawn = [Line(points=points, amplitude=cnr * NOISE, width_px=width_px) for points in lines]
    return lines_on_flat(drawn, size_px=size_px, background=LEVEL, noise=noise * NOISE, seed=seed)


def marks_on(
    picture: Picture,
    *,
    px_per_mm: float = PX_PER_MM,
    inside: NDArray[np.bool_] | None = None,
    lamp: Hotspot = FAR_LAMP,
) -> list[Mark]:
    """All marks in a picture, everywhere or in a part of it."""
    everywhere = np.ones(picture.shape, np.bool_)
    found = find_marks(
        picture,
        background(picture),
        lamp,
        everywhere if inside is None else inside,
        gain=1.0,
        px_per_mm=px_per_mm,
    )
    return list(found.marks)


def total_px(marks: Sequence[Mark], *, px_per_mm: float = PX_PER_MM) -> float:
    """Length of marks in px."""
    return sum(mark.length_mm for mark in marks) * px_per_mm


def file_of(
    rgb: NDArray[np.uint8],
    *,
    kind: str = "PNG",
    quality: int = 95,
    iso: int | None = 100,
    orientation: int = 1,
) -> bytes:
    """A file of a picture (H, W) or (H, W, 3), with EXIF sensitivity (unless None) and orientation."""
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    if iso is not None:
        exif.get_ifd(EXIF_IFD)[ISO] = iso
    stream = io.BytesIO()
    options = {"quality": quality} if kind == "JPEG" else {"compress_level": 1}
    Image.fromarray(np.ascontiguousarray(rgb)).save(stream, kind, exif=exif, **options)
    return stream.getvalue()


_MEASURED: dict[int, tuple[Phantom, PanelMeasurement]] = {}


def measured(phantom: Phantom) -> PanelMeasurement:
    """Measure a phantom's picture, free of JPEG artefacts; the same object is measured once."""
    if id(phantom) not in _MEASURED:
        shot = phantom.shot
        result = measure(file_of(phantom.rgb, iso=round(shot.iso)), px_per_mm=shot.px_per_mm)
        if len(_MEASURED) > 8:
            _MEASURED.clear()
        _MEASURED[id(phantom)] = (phantom, result)  # the phantom is kept, so that its id stays its own
    return _MEASURED[id(phantom)][1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit:
    """What the light of a photograph says."""

    hotspot: Hotspot
    back: Background
    zone: NDArray[np.bool_]

    @property
    def haze(self) -> float:
        return light.haze(self.back, self.hotspot)


def lit(phantom: Phantom) -> Lit:
    """Hotspot, background and zone of a phantom."""
    hotspot, back = light.find_hotspot(phantom.luminance), background(phantom.luminance)
    zone = lit_zone(back, hotspot)
    return Lit(hotspot=hotspot, back=back, zone=zone)


def found_in(seen: Phantom) -> Findings:
    """What the tracer finds in a phantom, and the zone it looked in."""
    there = lit(seen)
    return find_marks(
        seen.luminance,
        there.back,
        there.hotspot,
        there.zone,
        gain=noise_gain(seen.shot.iso),
        px_per_mm=seen.shot.px_per_mm,
    )


def field(name: str) -> tuple[Groove, ...]:
    """Grooves by name: "clean", "swirled" (60 mm/cm² and 5 scratches) or "dense" (150 mm/cm²)."""
    if name == "clean":
        return ()
    if name == "dense":
        return swirls(3, density_mm_per_cm2=150.0)
    return (*swirls(3, density_mm_per_cm2=60.0), *scratches(4, count=5))


@lru_cache(maxsize=12)
def phantom(name: str, shot: Shot | None = None, panel: Panel | None = None) -> Phantom:
    """A photograph of a named field of grooves; the same arguments give the same object."""
    return photograph(field(name), shot, panel=panel)


def line(
    start: NDArray[np.float64] | tuple[float, float],
    stop: NDArray[np.float64] | tuple[float, float],
    *,
    step: float = 1.0,
) -> NDArray[np.float64]:
    """Points of a straight line at even distances."""
    start, stop = np.asarray(start, float), np.asarray(stop, float)
    return np.linspace(start, stop, round(float(np.hypot(*(stop - start))) / step) + 1)
