"""The form of a comparison that comes in with a job; see `result_forms`."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field, model_validator

from defectmap.comparison.contract import side_records
from defectmap.comparison.films_apart import FILM_DIRECTIONS
from defectmap.comparison.limit import Verdict
from defectmap.comparison.outcome import Scope
from defectmap.record.limits import JsonForm
from defectmap.record.result_forms import (
    Count,
    Detail,
    Figure,
    Micrometres,
    Name,
    Scaled,
    Words,
    form_problem,
    record_read,
)

Percent = Annotated[float, Field(ge=-100.0001, le=1e9)]
Offset = Annotated[float, Field(ge=-1e6, le=1e6)]
Sha256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class _Change(JsonForm):
    before: Figure | None
    after: Figure | None
    change_percent: Percent | None
    ci95_percent: tuple[Percent | None, Percent | None] | None
    distinguishable: bool | None
    at_least_percent: Annotated[float, Field(ge=-100, le=100)] | None
    method: Words = ""
    method_code: Name | None = None
    note: Words = ""
    note_code: Name | None = None
    note_values: dict[Name, Any] = {}

    @model_validator(mode="after")
    def _whole(self) -> _Change:
        if self.change_percent is None and self.ci95_percent is not None:
            raise ValueError("an interval of no change")
        if self.change_percent is not None and (self.before is None or self.after is None):
            raise ValueError("a change of no figures")
        return self


class _Densities(JsonForm):
    all: _Change
    swirl: _Change
    scratch: _Change
    trail: _Change | None = None


class _Figures(JsonForm):
    density_mm_per_cm2: _Densities
    longest_scratch_mm: _Change
    haze: _Change
    score: _Change


class _FainterDensity(JsonForm):
    equivalent_width_um: Figure
    density_mm_per_cm2: _Change


class _Reason(JsonForm):
    topic: Name
    verdict: Verdict
    code: Name | None = None
    values: dict[Name, Any] = {}
    value: float | None
    limit: float | None


class _Claim(JsonForm):
    word: Literal["removed", "less visible"]
    reason: Words
    notes: list[Words] = []
    reason_codes: list[Name] | None = None
    note_codes: list[Name] | None = None
    reason_code: Name | None = None


class _Alignment(JsonForm):
    by: Name
    sureness: Figure | None
    turn_deg: Annotated[float, Field(ge=-360, le=360)]
    right_mm: Offset
    down_mm: Offset
    scale: Annotated[float, Field(ge=1e-3, le=1e3)]


class _Spot(_Figures):
    comparable: Verdict
    alignment: _Alignment
    common_area_cm2: Figure | None
    reason_details: list[_Reason] = []


class _Rebound(JsonForm):
    unwiped_change_percent: Percent | None
    wiped_change_percent: Percent | None
    points: float | None
    ci95_points: tuple[float | None, float | None]
    sentence: Words
    code: Name | None = None


class _ByHand(JsonForm):
    removed: Count
    kind_changed: Count
    areas: Count
    change_percent_without: Percent | None


class _Side(JsonForm):
    """A photograph of a comparison; of its measurement, what the report reads there."""

    refused: Words | None = None
    scale: Scaled | None = None
    strength_mm_per_cm2: dict[Micrometres, Figure] | None = None


_Sides = _Side | Annotated[list[_Side], Field(min_length=1)]


class _Refused(JsonForm):
    """What is kept where a photograph was refused: no spot, and no figure."""

    comparable: Literal["no"]
    reasons: list[Words]
    before: _Sides
    after: _Sides


class _Comparison(_Figures):
    """What every version wrote of photographs or films that it compared."""

    comparable: Verdict
    reasons: list[Words]
    reason_details: list[_Reason]
    scope: Scope
    claim: _Claim
    fainter_marks: _FainterDensity | None = None
    rebound: _Rebound | None
    setup: Name | None
    warnings: list[Words]
    warning_details: list[Detail] = []
    by_hand: _ByHand | None = None
    spots: Annotated[list[_Spot], Field(min_length=1)]
    before: _Sides
    after: _Sides

    @model_validator(mode="after")
    def _share_of_films(self) -> _Comparison:
        for one in self.warning_details:
            share = one.values.get("share")
            if one.code == FILM_DIRECTIONS and not (isinstance(share, float) and 0 <= share <= 100):
                raise ValueError("of films, the share of directions in per cent is missing")
        return self


class _MadeFrom(JsonForm):
    before: Annotated[list[Sha256], Field(min_length=1)]
    after: Annotated[list[Sha256], Field(min_length=1)]
    measuring: Count | None = None
    comparing: Count | None = None


def comparison_form_problem(result: str, settings: str) -> str | None:
    """What a comparison lacks of its form; None if nothing.

    Parameters
    ----------
    result : str
        JSON, as `defectmap compare --json` writes it.
    settings : str
        JSON of what made it: the photographs, and the versions.
    """
    read = record_read(result, settings)
    if isinstance(read, str):
        return read
    record, made_from = read
    refused = record.get("comparable") == "no" and "spots" not in record
    form: type[BaseModel] = _Refused if refused else _Comparison
    problem = form_problem(_MadeFrom, settings) or form_problem(form, result)
    if problem or refused:
        return problem
    counted = {
        len(one)
        for one in (
            record["spots"],
            *(side_records(record, side) for side in ("before", "after")),
            *(made_from[side] for side in ("before", "after")),
        )
    }
    return "it does not hold two photographs for each spot" if len(counted) > 1 else None
