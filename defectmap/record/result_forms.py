"""The form of a result that comes in with a job: a seal says that it was not altered, not that it is one.

Anybody can make a seal. Whatever is read of a result later stands here with its kind and its range; further
keys may be there, as results only ever gain some.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, Field, ValidationError, model_validator

from defectmap.panel.measurement import LampSide, MarkKind, Polarity, ScaleSource
from defectmap.panel.photo.head import MAX_MEGAPIXELS
from defectmap.record.corrections import NewKind
from defectmap.record.limits import MOST_INT, JsonForm, WholeForm
from defectmap.record.sealing import strict_json
from defectmap.versions import is_old
from defectmap.words.photo_words import told
from defectmap.words.remark import UNSAYABLE, Remark

Figure = Annotated[float, Field(ge=0, le=1e9)]
Place = Annotated[float, Field(ge=-1e6, le=1e6)]  # of a pixel
Share = Annotated[float, Field(ge=0, le=1)]
Count = Annotated[int, Field(ge=0, le=MOST_INT)]
Side = Annotated[int, Field(ge=1, le=int(MAX_MEGAPIXELS * 1e6))]
Words = Annotated[str, Field(max_length=2000)]
Name = Annotated[str, Field(max_length=300)]
Micrometres = Annotated[str, Field(pattern=r"^[0-9]{1,6}$")]  # a strength, as a key


def _is_time(words: str) -> str:
    datetime.fromisoformat(words)
    return words


class _Named(JsonForm):
    """A photograph that may never have been opened."""

    name: Name
    sha256: Name | None = None
    taken: Annotated[str, Field(max_length=40), AfterValidator(_is_time)] | None = None


class _Photo(_Named):
    sha256: Name
    width_px: Side
    height_px: Side
    exposure_s: Figure | None = None
    iso: Figure | None = None
    f_number: Figure | None = None
    focal_length_mm: Figure | None = None
    camera: Name | None = None


class Scaled(JsonForm):
    """A scale, as results hold it."""

    px_per_mm: Annotated[float, Field(gt=0, le=1e6)]
    source: ScaleSource
    tilt_deg: Annotated[float, Field(ge=-180, le=180)] | None = None


class _Mark(JsonForm):
    kind: MarkKind
    polarity: Polarity
    length_mm: Figure
    width_mm: Figure
    contrast: Figure
    contrast_to_noise: Figure
    equivalent_width_um: Annotated[float, Field(ge=-1e9, le=1e9)] | None = None
    points: Annotated[list[tuple[Place, Place]], Field(min_length=1)]
    lamp_places: Count = 1
    stands_for: Annotated[float, Field(ge=0, le=1e6)] = 1.0


class _Spot(JsonForm):
    kind: Name
    x: Place
    y: Place
    diameter_mm: Figure


class _Density(JsonForm):
    swirl: Figure
    scratch: Figure
    trail: Figure
    all: Figure


class _Ring(JsonForm):
    inner_mm: Figure
    outer_mm: Figure
    area_cm2: Figure
    length_mm: Figure
    density_mm_per_cm2: Figure


class _Hotspot(JsonForm):
    x: Place
    y: Place
    radius_px: Figure
    lamps: Annotated[int, Field(ge=0, le=MOST_INT)] = 1


class _Zone(JsonForm):
    area_cm2: Figure


class _Limit(JsonForm):
    contrast_to_noise: Figure
    length_mm: Figure
    contrast: Figure | None  # a film has none of its own
    equivalent_width_um: Figure | None = None


class _Sharpening(JsonForm):
    overshoot: Annotated[float, Field(ge=-10, le=10)]
    amount: Annotated[float, Field(ge=0, le=10)]
    sd_px: Annotated[float, Field(gt=0, le=100)]


class _Blind(JsonForm):
    x_share: Share
    y_share: Share
    directions_share: Share
    lamp_side: LampSide


class _Film(JsonForm):
    frames: Count
    said_frames: Count
    used: list[Count]
    to_first: list[list[list[float]]]
    sure_px: list[Figure]
    left_out: dict[Name, Count]
    directions_share: Share | None
    by_hand: bool = False
    blind: list[_Blind] = []
    lamps: list[tuple[Place, Place]] = []


class Detail(WholeForm):
    """A remark as results hold it; whether it can be worded is asked of the table of its sentences."""

    code: Name
    values: dict[Name, Any]


class _Refused(JsonForm):
    """What is kept of a photograph that could not be measured."""

    photo: _Named
    refused: Words


class _Any(JsonForm):
    """What every version wrote of a photograph that it measured."""

    schema_: Annotated[Literal[1], Field(alias="schema")]
    photo: _Photo
    scale: Scaled
    hotspot: _Hotspot
    zone: _Zone
    marks: list[_Mark]
    spots: list[_Spot]
    density_mm_per_cm2: _Density
    rings: list[_Ring]
    longest_scratch_mm: Figure | None
    haze: Figure | None
    score: Annotated[float, Field(ge=0, le=100)] | None
    detection_limit: _Limit
    sharpening: _Sharpening | None = None
    strength_mm_per_cm2: dict[Micrometres, Figure] = {}
    faint_marks: list[_Mark] = []
    warnings: list[Words]
    warning_details: list[Detail] = []
    film: _Film | None = None

    @model_validator(mode="after")
    def _light_of_a_photograph(self) -> Self:
        if self.film is None and self.detection_limit.contrast is None:
            raise ValueError("a photograph without a detection limit")
        return self


class _Measured(_Any):
    """What this version writes beside."""

    strength_mm_per_cm2: dict[Micrometres, Figure]
    faint_marks: list[_Mark]
    warning_details: list[Detail]


class _GivenScale(JsonForm):
    px_per_mm: Annotated[float, Field(gt=0, le=1e6)] | None
    field_width_mm: Annotated[float, Field(gt=0, le=1e6)] | None


class _Relabel(WholeForm):
    what: Literal["kind"]
    x: Place
    y: Place
    length_mm: Figure
    kind: NewKind


class _Exclusion(WholeForm):
    what: Literal["area"]
    left: Place
    top: Place
    right: Place
    bottom: Place


class _Settings(JsonForm):
    scale: _GivenScale | None
    measuring: Count | None = None
    corrections: list[_Relabel | _Exclusion] = []
    revision: Count = 0


def measurement_form_problem(result: str, settings: str) -> str | None:
    """What a measurement lacks of its form; None if nothing.

    Parameters
    ----------
    result : str
        JSON, as `defectmap measure --json` writes it.
    settings : str
        JSON of what made it, which tells whether it is of this version.
    """
    read = record_read(result, settings)
    if isinstance(read, str):
        return read
    record, made_from = read
    if record.get("refused") is not None:
        return form_problem(_Refused, result) or form_problem(_Settings, settings)
    old = is_old(made_from)
    problem = form_problem(_Any if old else _Measured, result) or form_problem(_Settings, settings)
    return problem if problem or old else wording_problem(record["warning_details"], say=told)


def record_read(result: str, settings: str) -> tuple[dict[str, Any], Any] | str:
    """A record and what made it, out of their JSON; or what is wrong with that."""
    try:
        record, made_from = strict_json(result), strict_json(settings)
    except ValueError as error:
        return f"it is not readable ({error})"
    return (record, made_from) if isinstance(record, dict) else "it is no record"


def form_problem(form: type[BaseModel], words: str) -> str | None:
    """Where JSON has not a form, and why; None if it has."""
    try:
        form.model_validate_json(words, strict=True)  # in JSON's own kinds: "5" is no number
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        return f"its {where[:80]} is not in order ({first['msg'][:80]})"
    return None


def wording_problem(details: Iterable[Mapping[str, Any]], *, say: Callable[[Remark], object]) -> str | None:
    """Which remark has not the values that its sentence needs; None if all have."""
    for one in details:
        try:
            say(Remark(code=one["code"], values=one.get("values") or {}))
        except UNSAYABLE:
            return f"its remark {one['code'][:40]!r} does not hold what it needs"
    return None
