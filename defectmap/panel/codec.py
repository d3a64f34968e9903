"""What a measurement looks like on disk: the JSON record, the zone mask as PNG, and refusals.

The record's keys are a contract: keys may be added, never renamed or dropped. This is the one place where
geometry turns from (row, column) to x (right) and y (down); the centre of the first pixel is (0, 0) and EXIF
orientation is already applied.
"""

from __future__ import annotations

import hashlib
import json
import math
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap import __version__
from defectmap.panel.measurement import (
    Density,
    Mark,
    PanelMeasurement,
    PhotoFacts,
    RingDensity,
    Scale,
    SpotDefect,
)
from defectmap.words.units import UNCALIBRATED, scale_sentence

SCHEMA = 1
# A hundredth of a pixel: far below the accuracy of a centreline, and a third of the file size.
POINT_DECIMALS = 2

Record = dict[str, Any]


def measurement_record(
    measurement: PanelMeasurement, *, mask_png: str | None = None, with_points: bool = True
) -> Record:
    """Turn one measurement into the plain dictionary that is written as JSON.

    Parameters
    ----------
    measurement : PanelMeasurement
        What `defectmap.measure` returned.
    mask_png : str, optional
        Where the zone mask was written, as the record should name it.
    with_points : bool
        False leaves out each mark's points (a comparison stores both photographs without them).

    Returns
    -------
    dict
        Keys of schema 1. A figure that is not finite becomes None, because JSON has no such number.

    Notes
    -----
    Where the scale is unknown (``scale.source == "none"``, ``calibrated`` false) each "mm" is one pixel and
    "cm2" is 100 square pixels; ``warnings`` says so too.
    """
    hotspot = measurement.hotspot
    return {
        "schema": SCHEMA,
        "program": f"defectmap {__version__}",
        "photo": _photo(measurement.photo),
        "scale": _scale(measurement.scale),
        "calibrated": measurement.scale.calibrated,
        "hotspot": {
            "x": finite_or_none(hotspot.column),
            "y": finite_or_none(hotspot.row),
            "radius_px": finite_or_none(hotspot.radius_px),
            "lamps": int(hotspot.lamps),
        },
        "zone": {"mask_png": mask_png, "area_cm2": finite_or_none(measurement.area_cm2)},
        "marks": [_mark(mark, with_points=with_points) for mark in measurement.marks],
        "spots": [_spot(spot) for spot in measurement.spots],
        "density_mm_per_cm2": _density(measurement.density),
        "rings": [_ring(ring) for ring in measurement.rings],
        "longest_scratch_mm": finite_or_none(measurement.longest_scratch_mm),
        "haze": finite_or_none(measurement.haze),
        "score": finite_or_none(measurement.score),
        "detection_limit": {
            "contrast_to_noise": finite_or_none(measurement.detection_limit.contrast_to_noise),
            "length_mm": finite_or_none(measurement.detection_limit.length_mm),
            "contrast": finite_or_none(measurement.detection_limit.contrast),
        },
        "warnings": _warnings(measurement),
        "refused": None,
    }


def refusal_record(name: str, reason: str, *, data: bytes | None = None) -> Record:
    """Record of a photograph that was refused: why, and what to do; it has no ``marks``.

    Parameters
    ----------
    name : str
        File name of the photograph.
    reason : str
        The sentence that the error carried.
    data : bytes, optional
        The file's bytes, for its hash; None where it could not even be opened.

    Returns
    -------
    dict
        ``schema``, ``program``, ``photo`` (size unknown), ``warnings`` and ``refused``.
    """
    sha256 = hashlib.sha256(data).hexdigest() if data is not None else None
    photo = {"name": _text(name), "sha256": sha256, "width_px": None, "height_px": None, "taken": None}
    return {
        "schema": SCHEMA,
        "program": f"defectmap {__version__}",
        "photo": photo,
        "warnings": [],
        "refused": reason,
    }


def json_text(records: list[Record] | Record, *, ascii_only: bool = False) -> str:
    """One record, or an array of several, as JSON text that ends with a newline.

    Raises
    ------
    ValueError
        A figure is not finite: `measurement_record` never lets one through.
    """
    return json.dumps(records, indent=1, ensure_ascii=ascii_only, allow_nan=False) + "\n"


def write_zone_png(zone: NDArray[np.bool_], path: Path) -> None:
    """Write the zone mask as an 8-bit grey PNG of the photograph's size: 255 where marks count, else 0.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    from PIL import Image

    Image.fromarray(zone.astype(np.uint8) * 255).save(path, format="PNG")


def _warnings(measurement: PanelMeasurement) -> list[str]:
    """Add the word that must stand in every output without a scale, unless a warning says it already."""
    said = list(measurement.warnings)
    if not measurement.scale.calibrated and not any(UNCALIBRATED in warning for warning in said):
        said.append(f"{scale_sentence(measurement.scale)}.")
    return said


def _photo(facts: PhotoFacts) -> Record:
    return {
        "name": _text(facts.name),
        "sha256": facts.sha256,
        "width_px": int(facts.width_px),
        "height_px": int(facts.height_px),
        "taken": facts.taken,
        "exposure_s": finite_or_none(facts.exposure_s),
        "iso": finite_or_none(facts.iso),
        "f_number": finite_or_none(facts.f_number),
        "focal_length_mm": finite_or_none(facts.focal_length_mm),
        "camera": facts.camera,
        "bits": int(facts.bits),
        "hdr": bool(facts.hdr),
    }


def _scale(scale: Scale) -> Record:
    return {
        "px_per_mm": finite_or_none(scale.px_per_mm),
        "source": scale.source,
        "tilt_deg": finite_or_none(scale.tilt_deg),
    }


def _mark(mark: Mark, *, with_points: bool) -> Record:
    record: Record = {
        "kind": mark.kind,
        "polarity": mark.polarity,
        "length_mm": finite_or_none(mark.length_mm),
        "width_mm": finite_or_none(mark.width_mm),
        "contrast": finite_or_none(mark.contrast),
        "contrast_to_noise": finite_or_none(mark.contrast_to_noise),
    }
    if with_points:
        record["points"] = np.round(mark.points[:, ::-1], POINT_DECIMALS).tolist()
    return record


def _spot(spot: SpotDefect) -> Record:
    return {
        "kind": spot.kind,
        "x": finite_or_none(spot.column),
        "y": finite_or_none(spot.row),
        "diameter_mm": finite_or_none(spot.diameter_mm),
    }


def _density(density: Density) -> Record:
    return {
        "swirl": finite_or_none(density.swirl),
        "scratch": finite_or_none(density.scratch),
        "trail": finite_or_none(density.trail),
        "all": finite_or_none(density.all),
    }


def _ring(ring: RingDensity) -> Record:
    return {
        "inner_mm": finite_or_none(ring.inner_mm),
        "outer_mm": finite_or_none(ring.outer_mm),
        "area_cm2": finite_or_none(ring.area_cm2),
        "length_mm": finite_or_none(ring.length_mm),
        "density_mm_per_cm2": finite_or_none(ring.mm_per_cm2),
    }


def _text(name: str) -> str:
    # A Linux file name need not be UTF-8; JSON text must be.
    return name.encode("utf-8", "replace").decode("utf-8")


def finite_or_none(value: float | None) -> float | None:
    """A figure as JSON can hold it: infinity and not-a-number become null."""
    return None if value is None or not math.isfinite(value) else float(value)
