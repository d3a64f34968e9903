"""How a figure is written for people: unit names, and the word that must stand beside an unknown scale."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from defectmap.words.writer import ENGLISH, Writer

UNCALIBRATED = "uncalibrated"


class ToldScale(Protocol):
    """What a scale says of itself, see `panel.measurement.Scale`."""

    @property
    def px_per_mm(self) -> float:
        """Pixels for one millimetre of panel."""

    @property
    def source(self) -> str:
        """Where it is from; "none" where it is not known."""

    @property
    def tilt_deg(self) -> float | None:
        """Tilt of the printed card; None without one."""

    @property
    def calibrated(self) -> bool:
        """Whether it is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitNames:
    """Names of the units that a measurement's figures are in."""

    length: str
    area: str
    density: str


_MILLIMETRES = UnitNames(length="mm", area="cm²", density="mm/cm²")
# Without a scale one "mm" is one pixel, so 1 "cm²" is a square of 10 by 10 pixels.
_PIXELS = UnitNames(length="px", area="px² × 100", density="px/100 px²")


def unit_names(scale: ToldScale) -> UnitNames:
    """Return the unit names for figures measured at this scale.

    Examples
    --------
    >>> from defectmap.panel.measurement import Scale
    >>> unit_names(Scale(px_per_mm=20.0, source="typed")).density
    'mm/cm²'
    >>> unit_names(Scale(px_per_mm=1.0, source="none")).length
    'px'
    """
    return _MILLIMETRES if scale.calibrated else _PIXELS


def scale_sentence(scale: ToldScale) -> str:
    """Say where the scale comes from, or that there is none.

    Examples
    --------
    >>> from defectmap.panel.measurement import Scale
    >>> scale_sentence(Scale(px_per_mm=20.0, source="typed"))
    '20.00 px/mm (typed)'
    >>> scale_sentence(Scale(px_per_mm=1.0, source="none"))
    'uncalibrated: lengths in pixels, densities relative'
    """
    if not scale.calibrated:
        return f"{UNCALIBRATED}: lengths in pixels, densities relative"
    source = "printed card" if scale.source == "card" else scale.source
    tilt = f", card tilted {scale.tilt_deg:.0f}°" if scale.tilt_deg is not None else ""
    return f"{scale.px_per_mm:.2f} px/mm ({source}{tilt})"


def no_score_words(*, calibrated: bool, film: bool) -> str:
    """Why there is no finish score.

    Examples
    --------
    >>> no_score_words(calibrated=True, film=False)
    'standard marks would not show'
    """
    if film:
        return "photographs only, not films"
    return "standard marks would not show" if calibrated else "needs a scale"


def light_words(low: float, high: float | None = None, *, writer: Writer = ENGLISH) -> str:
    """How bright a mark is against the paint beside it (in linear light), in words that hold at any size.

    Parameters
    ----------
    low : float
        Contrast: the light that the mark gives above the paint beside it, as a share of that paint's.
    high : float, optional
        Upper end, where several photographs differ.
    writer : Writer, optional
        Of the shop.

    Examples
    --------
    >>> light_words(0.042), light_words(0.95)
    ('4.2 % brighter than the paint beside it', '95 % brighter than the paint beside it')
    >>> light_words(1.18), light_words(0.93, 1.18)
    ('2.2 times as bright as the paint beside it', '1.9 to 2.2 times as bright as the paint beside it')
    """
    most = low if high is None else high
    if most < 0.995:  # above, "118 % more" would be read as 1.18 times
        digits = 1 if low < 0.095 else 0
        size = _spanned([writer.number(100 * one, digits) for one in (low, most)], writer)
        return writer.tell("{size} % brighter than the paint beside it", size=size)
    size = _spanned([writer.number(1 + one, 1 if one < 9 else 0) for one in (low, most)], writer)
    return writer.tell("{size} times as bright as the paint beside it", size=size)


def _spanned(ends: list[str], writer: Writer) -> str:
    if ends[0] == ends[1]:
        return ends[0]
    return writer.tell("{low} to {high}", low=ends[0], high=ends[1])
