"""The form of a result that comes in with a job: a seal says that it was not altered, not that it is one.

Anybody can make a seal. Whatever is read of a result later stands here with its kind and its range; further
keys may be there, as results only ever gain some.
"""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from defectmap.panel.measurement import LampSide
from defectmap.panel.photo.head import MAX_MEGAPIXELS
from defectmap.record.limits import MOST_INT
from defectmap.versions import is_old

_FORM = ConfigDict(extra="ignore", allow_inf_nan=False)
Figure = Annotated[float, Field(ge=0, le=1e9)]
Place = Annotated[float, Field(ge=-1e6, le=1e6)]  # of a pixel
Share = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=0, le=MOST_INT)]
Side = Annotated[int, Field(ge=1, le=int(MAX_MEGAPIXELS * 1e6))]
Words = Annotated[str, Field(max_length=2000)]
Name = Annotated[str, Field(max_length=300)]


class _Photo(BaseModel):
    model_config = _FORM
    name: Name
    sha256: Name | None = None
    width_px: Side
    height_px: Side
    taken: Annotated[str, Field(max_length=40)] | None = None
    exposure_s: Figure | None = None
    iso: Figure | None = None
    f_number: Figure | None = None
    focal_length_mm: Figure | None = None
    camera: Name | None = None


class _Scale(BaseModel):
    model_config = _FORM
    px_per_mm: Annotated[float, Field(gt=0, le=1e6)]
    source: Name


class _Mark(BaseModel):
    model_config = _FORM
    kind: Name
    length_mm: Figure
    width_mm: Figure = 0.0
    contrast: Figure = 0.0
    equivalent_width_um: Annotated[float, Field(ge=-1e9, le=1e9)] | None = None
    points: list[tuple[Place, Place]] = []


class _Any(BaseModel):
    """What every version wrote of a photograph that it measured."""

    model_config = _FORM
    schema_: Annotated[Literal[1], Field(alias="schema")]
    photo: _Photo
    scale: _Scale
    marks: list[_Mark]
    density_mm_per_cm2: dict[Name, Figure]
    longest_scratch_mm: Figure | None
    haze: Figure | None
    score: Annotated[float, Field(ge=0, le=100)] | None
    warnings: list[Words]


class _Hotspot(BaseModel):
    model_config = _FORM
    x: Place
    y: Place
    radius_px: Figure
    lamps: Annotated[int, Field(ge=0, le=MOST_INT)] = 1


class _Zone(BaseModel):
    model_config = _FORM
    area_cm2: Figure


class _Limit(BaseModel):
    model_config = _FORM
    contrast_to_noise: Figure
    length_mm: Figure
    contrast: Figure | None  # a film has none of its own
    equivalent_width_um: Figure | None = None


class _Blind(BaseModel):
    model_config = _FORM
    x_share: Share
    y_share: Share
    directions_share: Share
    lamp_side: LampSide


class _Film(BaseModel):
    model_config = _FORM
    frames: Count
    said_frames: Count
    used: list[Count]
    to_first: list[list[list[float]]]
    sure_px: list[Figure]
    left_out: dict[Name, Count]
    directions_share: Share | None
    by_hand: bool = False
    blind: list[_Blind] = []


class _Measured(_Any):
    """What this version writes beside."""

    hotspot: _Hotspot
    zone: _Zone
    detection_limit: _Limit
    strength_mm_per_cm2: dict[Name, Figure]
    faint_marks: list[_Mark]
    warning_details: list[dict[str, Any]]
    film: _Film | None = None


def measurement_form_problem(result: str, settings: str) -> str | None:
    """What a measurement lacks of its form; None if nothing.

    Parameters
    ----------
    result : str
        JSON, as `defectmap measure --json` writes it.
    settings : str
        JSON of what made it, which tells whether it is of this version.
    """
    record = json.loads(result)
    if not isinstance(record, dict):
        return "it is no record"
    if record.get("refused") is not None:
        return None if isinstance(record["refused"], str) else "refused is no sentence"
    form = _Any if is_old(json.loads(settings)) else _Measured
    try:
        form.model_validate_json(result, strict=True)  # in JSON's own kinds: "5" is no number
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        return f"its {where[:80]} is not in order ({first['msg'][:80]})"
    return None
