"""What a value in a record that comes in may be, by the name of its column; a sentence where it is not."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date, datetime

from pydantic import BaseModel, ConfigDict

MOST_INT = 2**31 - 1  # PostgreSQL's integer
LAST_YEAR = 2200
# The widest that an honest record could hold; far outside of it a file is forged or damaged.
_FLOATS: dict[str, tuple[float, float]] = {
    "area_m2": (1e-6, 1e4),
    "px_per_mm": (1e-6, 1e5),
    "field_width_mm": (1e-6, 1e5),
    "value_um": (0.0, 1e5),
    "clear_coat_um": (0.0, 1e5),
    "removal_low_um": (0.0, 1e5),
    "removal_high_um": (0.0, 1e5),
    "section_s": (0.0, 1e6),
    "minutes": (0.0, 1e6),
    "x": (-1.0, 2.0),  # shares of the car's plan
    "y": (-1.0, 2.0),
    "score": (0.0, 100.0),
    "directions_share": (0.0, 1.0),
}
_ANY_FIGURE = (0.0, 1e9)
_TIMES = re.compile(r"at|.*_at|until")
_DAYS = re.compile(r"day|.*_on")


class JsonForm(BaseModel):
    """The form of a part that may hold more than this version reads."""

    model_config = ConfigDict(extra="ignore", allow_inf_nan=False)


class WholeForm(BaseModel):
    """The form of a part that holds nothing else."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


def float_check(column: str) -> Callable[[float], float]:
    """A check that a number is finite and one that this column can hold."""
    low, high = _FLOATS.get(column, _ANY_FIGURE)

    def check(value: float) -> float:
        if not math.isfinite(value):
            raise ValueError("is not a finite number")
        if not low <= value <= high:
            raise ValueError(f"is {value:g}, which is not from {low:g} to {high:g}")
        return value

    return check


def int_check(value: int) -> int:
    """Counts, positions, versions and sizes are never negative, and fit every database."""
    if not 0 <= value <= MOST_INT:
        raise ValueError(f"is not a whole number from 0 to {MOST_INT}")
    return value


def check_time(column: str, value: str) -> None:
    """Times and days are such, in ISO 8601.

    Raises
    ------
    ValueError
        The value is no time or day, though the column's name says so.
    """
    try:
        if _TIMES.fullmatch(column):
            year = datetime.fromisoformat(value).year
        elif _DAYS.fullmatch(column):
            year = date.fromisoformat(value).year
        else:
            return
    except ValueError:
        raise ValueError("is not a time or a day as the record writes it") from None
    if not 1900 <= year <= LAST_YEAR:
        raise ValueError(f"is in the year {year}")
