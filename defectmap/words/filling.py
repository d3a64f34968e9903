"""Fills the fields of a sentence: numbers with a language's decimal mark, measures in the units of a shop."""

from __future__ import annotations

import math
import re
import string
from collections.abc import Mapping
from typing import Any

from defectmap.words.style import Style

MM_PER_INCH = 25.4  # international inch, exact
NONE = "–"
# How many of ours (µm, mm, mm/cm²) each unit is; a mil is a thousandth of an inch.
UNITS: Mapping[str, float] = {
    "µm": 1.0,
    "mil": MM_PER_INCH,
    "mm": 1.0,
    "in": MM_PER_INCH,
    "mm/cm²": 1.0,
    "in/in²": 100 / MM_PER_INCH,
}
_UNIT = re.compile(r"(?P<form>[^a-z]*[efg]?) ?(?P<kind>film|length|density)(?P<bare> number)?")


class Filling(string.Formatter):
    """`str.format` with the decimal mark of a language, and with fields in the units of a shop."""

    def __init__(self, style: Style) -> None:
        """Take up a style."""
        inch = style.length == "inch"
        self.units: Mapping[str, str] = {
            "film": "mil" if style.unit == "mil" else "µm",
            "length": "in" if inch else "mm",
            "density": "in/in²" if inch else "mm/cm²",
        }
        self._point = decimal_point(style.language)

    def format_field(self, value: Any, format_spec: str) -> str:
        """Write one value; `film`, `length` and `density` in its format ask for a unit (`Writer.tell`)."""
        asked = _UNIT.fullmatch(format_spec)
        if asked is not None:
            return self._measured(value, asked["form"], self.units[asked["kind"]], bare=bool(asked["bare"]))
        if format_spec.endswith("%") and not isinstance(value, str):  # a space before the sign: ISO 80000-1
            return f"{self.format_field(100 * value, format_spec[:-1] + 'f')} %"
        written = str(super().format_field(value, format_spec))
        if self._point == "." or isinstance(value, bool) or not isinstance(value, int | float):
            return written
        return written.replace(".", self._point)

    def _measured(self, value: Any, form: str, unit: str, *, bare: bool) -> str:
        if isinstance(value, str):  # written already
            return str(value)
        if value is None or not math.isfinite(value):
            return NONE
        form = form or ".0f"
        ours = UNITS[unit]
        number = self.format_field(value / ours, form if ours == 1 else _finer(form, unit))
        return number if bare else f"{number} {unit}"


def _finer(form: str, unit: str) -> str:
    """A number format for a unit that is larger than ours: a decimal more, mils to their hundredth.

    Examples
    --------
    >>> _finer(".0f", "mil"), _finer("g", "mil"), _finer("g", "in"), _finer("+.3g", "in/in²")
    ('.1f', '.2f', '.3g', '+.3g')
    """
    if form.endswith("f"):
        head, _, decimals = form[:-1].rpartition(".")
        return f"{head}.{int(decimals) + 1}f"
    return ".2f" if unit == "mil" else {"g": ".3g"}.get(form, form)


def decimal_point(language: str) -> str:
    """Decimal mark of a language.

    Examples
    --------
    >>> decimal_point("en"), decimal_point("de")
    ('.', ',')
    """
    if language == "en":
        return "."
    from babel import UnknownLocaleError
    from babel.numbers import get_decimal_symbol

    try:
        return str(get_decimal_symbol(language))
    except (UnknownLocaleError, ValueError):
        return "."
