"""What the JSON record of a measurement leaves out, as arrays, and back: zone, marks at full precision."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.panel.codec import MARK_ARRAYS
from defectmap.panel.measurement import DetectionLimit, Mark, PanelMeasurement

Arrays = dict[str, NDArray[Any]]
# What may be no finite number, which JSON cannot hold.
_MARK_FIGURES = ("length_mm", "width_mm", "contrast", "contrast_to_noise", "equivalent_width_um")
_LIMIT_FIGURES = tuple(field.name for field in fields(DetectionLimit))


def measurement_arrays(measurement: PanelMeasurement) -> Arrays:
    """Zone mask, and points and figures of marks, by name."""
    limit = measurement.detection_limit
    return {
        "shape": np.array(measurement.zone.shape),
        "zone": np.packbits(measurement.zone),
        **_line_arrays("", measurement.marks),
        **_line_arrays("faint_", measurement.faint_marks),
        "limit": np.array([getattr(limit, name) for name in _LIMIT_FIGURES]),
    }


def completed(measurement: PanelMeasurement, arrays: Mapping[str, NDArray[Any]]) -> PanelMeasurement:
    """Put the arrays back into a measurement that `codec.measurement_from` made.

    Raises
    ------
    ValueError
        The arrays are of another measurement.
    KeyError
        They are of another version.
    """
    height, width = (int(side) for side in arrays["shape"])
    flat = np.unpackbits(arrays["zone"], count=height * width)
    return replace(
        measurement,
        zone=flat.reshape(height, width).astype(bool),
        marks=_marks(measurement.marks, arrays, ""),
        faint_marks=_marks(measurement.faint_marks, arrays, "faint_"),
        detection_limit=DetectionLimit(**dict(zip(_LIMIT_FIGURES, map(float, arrays["limit"]), strict=True))),
    )


def _line_arrays(prefix: str, marks: Sequence[Mark]) -> Arrays:
    """Marks as arrays: what belongs to their points lies end to end."""
    nothing = np.empty(0, np.float32)
    return {
        f"{prefix}lengths": np.array([len(mark.points) for mark in marks], dtype=np.int64),
        f"{prefix}points": np.concatenate([np.empty((0, 2)), *(mark.points for mark in marks)]),
        f"{prefix}um": np.concatenate([nothing, *(mark.um for mark in marks)]),
        f"{prefix}beside": np.concatenate([nothing, *(mark.beside for mark in marks)]),
        f"{prefix}figures": np.array([[getattr(mark, name) for name in _MARK_FIGURES] for mark in marks]),
    }


def _marks(marks: Sequence[Mark], arrays: Mapping[str, NDArray[Any]], prefix: str) -> tuple[Mark, ...]:
    lengths, figures = arrays[prefix + "lengths"], arrays[prefix + "figures"]
    if len(lengths) != len(marks):
        raise ValueError(f"arrays of {len(lengths)} marks for a record of {len(marks)}")
    cuts = np.cumsum(lengths)[:-1]
    along = [np.split(arrays[prefix + name], cuts) if marks else [] for name in MARK_ARRAYS]
    return tuple(
        replace(
            mark,
            **dict(zip(MARK_ARRAYS, lines, strict=True)),
            **dict(zip(_MARK_FIGURES, map(float, row), strict=True)),
        )
        for mark, *lines, row in zip(marks, *along, figures, strict=True)
    )
