"""Whole measurements kept beside the record, so that no photograph is measured twice.

The record keeps a result's JSON; what that leaves out (the zone mask, centrelines at full precision) lies in
`kept/SHA256-….npz` in the record's folder. It may be deleted: it is made again from the original when needed.
"""

from __future__ import annotations

import os
import uuid
import zipfile
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from defectmap import __version__
from defectmap.record.measuring import Measured, PhotoRequest, Progress, measure_missing
from defectmap.record.sealing import canonical, sha256_of_text

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from defectmap.panel.measurement import PanelMeasurement
    from defectmap.record.store import Store
    from defectmap.trade.facts import PhotographRecord

FOLDER = "kept"
FEWEST_FOR_WORKERS = 4  # below, starting processes takes longer than it saves
_MARK_FIGURES = ("length_mm", "width_mm", "contrast", "contrast_to_noise")


def measure_all(
    store: Store, reference: str, *, unmeasured: int, progress: Progress | None = None
) -> Measured:
    """Measure what a job has unmeasured, keeping each whole measurement.

    Parameters
    ----------
    unmeasured : int
        How many there are; decides whether to start worker processes.
    """
    return measure_missing(
        store,
        reference,
        measure=partial(measure_and_keep, folder=store.folder / FOLDER),
        program_version=__version__,
        workers=0 if unmeasured >= FEWEST_FOR_WORKERS else 1,
        progress=progress,
    )


def measure_and_keep(request: PhotoRequest, *, folder: Path) -> Mapping[str, Any]:
    """Measure one kept photograph and put the whole measurement on the shelf.

    Raises
    ------
    PhotoError
        It cannot be measured; the message says why.
    """
    from defectmap.panel.codec import measurement_record

    measured = _measure(
        request.path,
        name=request.name,
        px_per_mm=request.px_per_mm,
        field_width_mm=request.field_width_mm,
    )
    put(measured, place_of(folder, request))
    return measurement_record(measured)


def whole_measurement(
    store: Store, photograph: PhotographRecord | PhotoRequest, record: Mapping[str, Any]
) -> PanelMeasurement:
    """The uncorrected measurement of a photograph, from the shelf where it lies there.

    Parameters
    ----------
    record : mapping
        The result as the program measured it (no corrections); only its figures are read.
    """
    place = place_of(store.folder / FOLDER, photograph)
    found = take(place, record)
    if found is None:
        found = _measure(
            store.originals.path(photograph.sha256),
            name=photograph.name,
            px_per_mm=photograph.px_per_mm,
            field_width_mm=photograph.field_width_mm,
        )
        put(found, place)
    return found


def put(measured: PanelMeasurement, place: Path) -> None:
    """Write what the JSON of a measurement leaves out; a full disk only costs time later."""
    import numpy as np

    lengths = np.array([len(mark.points) for mark in measured.marks], dtype=np.int64)
    points = np.concatenate([mark.points for mark in measured.marks]) if len(lengths) else np.empty((0, 2))
    unfinished = place.with_name(f"{uuid.uuid4().hex}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with unfinished.open("xb") as file:
            np.savez_compressed(
                file,
                shape=np.array(measured.zone.shape),
                zone=np.packbits(measured.zone),
                points=points,
                lengths=lengths,
                figures=np.array([[getattr(m, name) for name in _MARK_FIGURES] for m in measured.marks]),
                limit=np.array(
                    [
                        measured.detection_limit.contrast_to_noise,
                        measured.detection_limit.length_mm,
                        measured.detection_limit.contrast,
                    ]
                ),
            )
        os.replace(unfinished, place)
    except OSError:
        unfinished.unlink(missing_ok=True)


def take(place: Path, record: Mapping[str, Any]) -> PanelMeasurement | None:
    """Put a measurement together again; None where the shelf has nothing that fits the record."""
    import numpy as np

    try:
        with np.load(place, allow_pickle=False) as kept:
            parts = {name: kept[name] for name in kept.files}
        height, width = (int(side) for side in parts["shape"])
        zone = np.unpackbits(parts["zone"], count=height * width).reshape(height, width).astype(bool)
        if len(parts["lengths"]) != len(record["marks"]):
            return None
        return _measurement(record, parts, zone)
    except (OSError, KeyError, ValueError, zipfile.BadZipFile):
        return None


def from_record(record: Mapping[str, Any], zone: NDArray[np.bool_]) -> PanelMeasurement:
    """A measurement out of its JSON and its zone mask; places are good to a hundredth of a pixel.

    Parameters
    ----------
    record : mapping
        `measure --json` of a measured photograph, with the points of its marks.
    zone : (H, W) bool ndarray
        Its zone mask.
    """
    import numpy as np

    marks = record["marks"]
    points = [np.array(mark["points"], dtype=np.float64)[:, ::-1] for mark in marks]
    limit = record["detection_limit"]
    parts = {
        "lengths": np.array([len(one) for one in points], dtype=np.int64),
        "points": np.concatenate(points) if points else np.empty((0, 2)),
        "figures": np.array([[mark[name] for name in _MARK_FIGURES] for mark in marks]),
        "limit": np.array([limit["contrast_to_noise"], limit["length_mm"], limit["contrast"]]),
    }
    return _measurement(record, parts, zone)


def place_of(folder: Path, of: PhotographRecord | PhotoRequest) -> Path:
    """Where a photograph's whole measurement lies in that folder, whether or not it does."""
    made_with = canonical([__version__, of.px_per_mm, of.field_width_mm])
    return folder / f"{of.sha256}-{sha256_of_text(made_with)[:12]}.npz"


def _measurement(record: Mapping[str, Any], parts: Mapping[str, Any], zone: Any) -> PanelMeasurement:
    import numpy as np

    from defectmap.panel.measurement import (
        Density,
        DetectionLimit,
        Hotspot,
        Mark,
        PanelMeasurement,
        PhotoFacts,
        RingDensity,
        Scale,
        SpotDefect,
    )

    ends = np.cumsum(parts["lengths"])
    marks = tuple(
        Mark(
            kind=said["kind"],
            polarity=said["polarity"],
            points=parts["points"][end - length : end],
            **dict(zip(_MARK_FIGURES, (float(value) for value in row), strict=True)),
        )
        for said, end, length, row in zip(
            record["marks"], ends, parts["lengths"], parts["figures"], strict=True
        )
    )
    photo = {name: record["photo"][name] for name in PhotoFacts.__dataclass_fields__}
    density = {kind: record["density_mm_per_cm2"][kind] for kind in ("swirl", "scratch", "trail")}
    rings = ({n: ring[n] for n in RingDensity.__dataclass_fields__} for ring in record["rings"])
    spot = record["hotspot"]
    limit = dict(zip(DetectionLimit.__dataclass_fields__, map(float, parts["limit"]), strict=True))
    return PanelMeasurement(
        photo=PhotoFacts(**photo),
        scale=Scale(**{name: record["scale"][name] for name in Scale.__dataclass_fields__}),
        hotspot=Hotspot(row=spot["y"], column=spot["x"], radius_px=spot["radius_px"], lamps=spot["lamps"]),
        zone=zone,
        area_cm2=record["zone"]["area_cm2"],
        marks=marks,
        spots=tuple(
            SpotDefect(kind=s["kind"], row=s["y"], column=s["x"], diameter_mm=s["diameter_mm"])
            for s in record["spots"]
        ),
        density=Density(**density),
        rings=tuple(RingDensity(**ring) for ring in rings),
        longest_scratch_mm=record["longest_scratch_mm"],
        haze=record["haze"],
        score=record["score"],
        detection_limit=DetectionLimit(**limit),
        warnings=tuple(w for w in record["warnings"] if not w.startswith("uncalibrated: ")),
    )


def _measure(
    path: Path, *, name: str, px_per_mm: float | None, field_width_mm: float | None
) -> PanelMeasurement:
    from defectmap.panel.measure import measure

    return measure(path.read_bytes(), px_per_mm=px_per_mm, field_width_mm=field_width_mm, name=name)
