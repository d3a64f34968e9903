"""The form of the JSON that some columns of a job file hold themselves: gates, targets, settings."""

from __future__ import annotations

from typing import Any, Self

from pydantic import TypeAdapter, model_validator

from defectmap.record.limits import WholeForm
from defectmap.record.sealing import strict_json
from defectmap.words.remark import UNSAYABLE, Remark
from defectmap.words.stage_words import told_gates


class _Gate(WholeForm):
    """A gate as a row keeps it; only those that this version has words for are taken in."""

    code: str
    values: dict[str, str | int | float]

    @model_validator(mode="after")
    def _worded(self) -> Self:
        try:
            told_gates([Remark(code=self.code, values=dict(self.values))])
        except UNSAYABLE as error:
            raise ValueError("is a gate that this version has no words for") from error
        return self


class _Target(WholeForm):
    density_mm_per_cm2: float | None = None
    haze: float | None = None
    trail_mm_per_cm2: float | None = None
    longest_scratch_mm: float | None = None


class _EarlierTarget(_Target):
    until: str


class _AnyTarget(_Target):
    earlier: list[_EarlierTarget] = []


JSON_COLUMNS: dict[str, TypeAdapter[Any]] = {
    "warnings": TypeAdapter(list[str | _Gate]),
    "settings": TypeAdapter(dict[str, Any]),
    "target": TypeAdapter(_AnyTarget),
}


def check_column(column: str, value: str) -> None:
    """A column that holds JSON holds it in its own form; any other column holds anything.

    Raises
    ------
    ValueError
        It has another form.
    """
    if column in JSON_COLUMNS:
        strict_json(value)
        JSON_COLUMNS[column].validate_json(value)
