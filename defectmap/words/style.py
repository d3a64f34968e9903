"""How a shop writes: language, units, dates, money, paper. One setting, kept to on every screen and paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal, get_args

Paper = Literal["A4", "Letter"]
LengthUnit = Literal["mm", "inch"]
FilmUnit = Literal["um", "mil"]
DateStyle = Literal["year first", "day first", "month first"]
CHOICES: Mapping[str, tuple[str, ...]] = {
    "paper": get_args(Paper),
    "length": get_args(LengthUnit),
    "unit": get_args(FilmUnit),
    "dates": get_args(DateStyle),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """The choices of one shop. Names are those of the settings in the record."""

    language: str = "en"  # a file of that name lies in defectmap/words/languages
    paper: Paper = "A4"
    length: LengthUnit = "mm"
    unit: FilmUnit = "um"  # of film thickness
    currency: str = "EUR"  # ISO 4217
    dates: DateStyle = "year first"
    time_zone: str = ""  # IANA name; empty: the computer's own


def style_of(settings: Mapping[str, Any]) -> Style:
    """The style in a shop's settings; what is missing or not a valid choice is the usual one.

    Examples
    --------
    >>> found = style_of({"name": "A shop", "unit": "mil", "paper": "Letter", "length": "furlong"})
    >>> found.paper, found.unit, found.length
    ('Letter', 'mil', 'mm')
    """
    usual = Style()
    kept = {}
    for one in fields(Style):
        found = str(settings.get(one.name) or getattr(usual, one.name))
        kept[one.name] = found if found in CHOICES.get(one.name, (found,)) else getattr(usual, one.name)
    return Style(**kept)  # type: ignore[arg-type]
