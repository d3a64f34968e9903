"""A measurement as the JSON record that is written, and back; zone PNG and refusals.

The record's keys are a contract: keys may be added, never renamed or dropped. This is the one place where
geometry turns from (row, column) to x (right) and y (down) and back; the centre of the first pixel is (0, 0)
and EXIF orientation is already applied.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from defectmap import __version__
from defectmap.panel.hidden import hidden_share
from defectmap.panel.measurement import (
    BlindPlace,
    Density,
    DetectionLimit,
    FilmFacts,
    Hotspot,
    Mark,
    PanelMeasurement,
    PhotoFacts,
    RingDensity,
    Scale,
    Sharpening,
    SpotDefect,
)
from defectmap.versions import MEASURING
from defectmap.words.photo_words import told
from defectmap.words.remark import Remark

SCHEMA = 1
# A hundredth of a pixel: far below the accuracy of a centreline, and a third of the file size.
POINT_DECIMALS = 2
OWN_ZONE = "own zone"  # what the figures of one photograph are counted in; a comparison's: "common area"

MARK_ARRAYS = ("points", "um", "beside")  # along a mark; see `arrays`

Record = dict[str, Any]
R = TypeVar("R")


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
        "measuring": MEASURING,
        "figures_of": OWN_ZONE,
        "photo": {**_plain(measurement.photo), "name": _text(measurement.photo.name)},
        "scale": _plain(measurement.scale),
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
        "detection_limit": _plain(measurement.detection_limit),
        "sharpening": _plain(measurement.sharpening) if measurement.sharpening else None,
        "strength_mm_per_cm2": {str(um): finite_or_none(d) for um, d in measurement.strength.items()},
        "hidden_share": finite_or_none(hidden_share(measurement.marks)),
        "faint_marks": [_mark(mark, with_points=with_points) for mark in measurement.faint_marks],
        "warnings": [told(one) for one in _warnings(measurement)],
        "warning_details": [one.record() for one in _warnings(measurement)],
        "refused": None,
        **({"film": _film(measurement.film)} if measurement.film else {}),
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


def zone_png(zone: NDArray[np.bool_]) -> bytes:
    """The zone mask as an 8-bit grey PNG of the photograph's size: 255 where marks count, else 0."""
    from PIL import Image

    out = io.BytesIO()
    Image.fromarray(zone.astype(np.uint8) * 255).save(out, format="PNG")
    return out.getvalue()


def measurement_from(record: Mapping[str, Any]) -> PanelMeasurement:
    """Turn `measurement_record` round; records of earlier versions are read as well.

    Parameters
    ----------
    record : mapping
        Of a measured photograph, with or without the points of its marks.

    Returns
    -------
    PanelMeasurement
        Its zone is empty, marks have neither `um` nor `beside`, and points are good to a hundredth of a
        pixel: `arrays.completed` adds what was kept apart.

    Raises
    ------
    KeyError
        The record is of a refused photograph, or damaged.
    """
    spot = record["hotspot"]
    scale = _part(Scale, record["scale"])
    return PanelMeasurement(
        photo=_part(PhotoFacts, record["photo"]),
        scale=scale,
        hotspot=_part(Hotspot, {**spot, "row": spot["y"], "column": spot["x"]}),
        zone=np.zeros((0, 0), dtype=bool),
        area_cm2=_number(record["zone"]["area_cm2"]),
        marks=_marks(record["marks"]),
        faint_marks=_marks(record.get("faint_marks", ())),
        strength={int(um): _number(d) for um, d in record.get("strength_mm_per_cm2", {}).items()},
        spots=tuple(
            _part(SpotDefect, {**one, "row": one["y"], "column": one["x"]}) for one in record["spots"]
        ),
        density=_part(Density, record["density_mm_per_cm2"]),
        rings=tuple(_part(RingDensity, one) for one in record["rings"]),
        longest_scratch_mm=_number(record["longest_scratch_mm"]),
        haze=_number(record["haze"]),
        score=record["score"],
        detection_limit=_part(DetectionLimit, record["detection_limit"]),
        sharpening=_part(Sharpening, record["sharpening"]) if record.get("sharpening") else None,
        warnings=_warnings_from(record),
        film=_film_from(record["film"]) if record.get("film") else None,
    )


def _marks(records: Sequence[Mapping[str, Any]]) -> tuple[Mark, ...]:
    points = [np.asarray(one.get("points", ()), dtype=np.float64).reshape(-1, 2)[:, ::-1] for one in records]
    return tuple(_part(Mark, {**one, "points": at}) for one, at in zip(records, points, strict=True))


def _part(kind: type[R], record: Mapping[str, Any]) -> R:
    """A part of a measurement from what the record says of it; what earlier versions left out is default."""
    known = {}
    for field in fields(kind):  # type: ignore[arg-type]
        if field.name in record:
            value = record[field.name]
            known[field.name] = _number(value) if field.type == "float" else value
    return kind(**known)


def _number(value: float | None) -> float:
    return math.nan if value is None else value


def _warnings(measurement: PanelMeasurement) -> tuple[Remark, ...]:
    """Add the word that must stand in every output without a scale."""
    added = () if measurement.scale.calibrated else (Remark(code="uncalibrated"),)
    return (*measurement.warnings, *added)


def _warnings_from(record: Mapping[str, Any]) -> tuple[Remark, ...]:
    """Remarks of a record; earlier versions kept but their sentences."""
    kept = [{"code": "kept", "values": {"words": words}} for words in record["warnings"]]
    said = tuple(Remark(**one) for one in record.get("warning_details", kept))
    return tuple(one for one in said if one.code != "uncalibrated")


def _mark(mark: Mark, *, with_points: bool) -> Record:
    unsaid = [name for name in ("lamp_places", "stands_for") if getattr(mark, name) == 1]
    record = _plain(mark, without=(*MARK_ARRAYS, *unsaid))
    if with_points:
        record["points"] = np.round(mark.points[:, ::-1], POINT_DECIMALS).tolist()
    return record


def _film(film: FilmFacts) -> Record:
    return {
        "frames": int(film.frames),
        "said_frames": int(film.said_frames),
        "used": [int(number) for number in film.used],
        "to_first": [np.round(homography, 9).tolist() for homography in film.to_first],
        "sure_px": [round(float(sure), 3) for sure in film.sure_px],
        "left_out": {reason: int(count) for reason, count in sorted(film.left_out.items())},
        "directions_share": finite_or_none(film.directions_share),
        "by_hand": film.by_hand,
        "blind": [_plain(place) for place in film.blind],
        "lamps": [[round(float(x), 2), round(float(y), 2)] for x, y in film.lamps],
    }


def _film_from(record: Mapping[str, Any]) -> FilmFacts:
    read = {
        "used": tuple(record["used"]),
        "to_first": tuple(np.array(homography) for homography in record["to_first"]),
        "sure_px": tuple(record["sure_px"]),
        "blind": tuple(_part(BlindPlace, place) for place in record.get("blind", ())),
        "lamps": tuple((float(x), float(y)) for x, y in record.get("lamps", ())),
    }
    return _part(FilmFacts, {**record, **read})


def _spot(spot: SpotDefect) -> Record:
    places = {"x": finite_or_none(spot.column), "y": finite_or_none(spot.row)}
    return {"kind": spot.kind, **places, "diameter_mm": finite_or_none(spot.diameter_mm)}


def _density(density: Density) -> Record:
    return {**_plain(density), "all": finite_or_none(density.all)}


def _ring(ring: RingDensity) -> Record:
    return {**_plain(ring), "density_mm_per_cm2": finite_or_none(ring.mm_per_cm2)}


def _plain(part: Any, *, without: Sequence[str] = ()) -> Record:
    """The fields of a part of a measurement as JSON can hold them."""
    return {one.name: _json(getattr(part, one.name)) for one in fields(part) if one.name not in without}


def _json(value: Any) -> Any:
    value = value.item() if isinstance(value, np.generic) else value
    return finite_or_none(value) if isinstance(value, float) else value


def _text(name: str) -> str:
    # A Linux file name need not be UTF-8; JSON text must be.
    return name.encode("utf-8", "replace").decode("utf-8")


def finite_or_none(value: float | None) -> float | None:
    """A figure as JSON can hold it: infinity and not-a-number become null."""
    return None if value is None or not math.isfinite(value) else float(value)
