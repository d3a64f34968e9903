"""How strong the marks are: their density at or above four strengths, before over after."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.pages.widgets.interval_bar import DARK, LIGHT
from defectmap.words.report_words import figure_words

WIDTH, ROW, LEFT, RIGHT, TOP = 420.0, 34.0, 92.0, 62.0, 8.0
Spectrum = Mapping[str, float]  # strength in µm to mm/cm² at or above it


def strength_words(before: Spectrum, after: Spectrum | None = None, *, unit: str = "mm/cm²") -> str:
    """What the chart shows.

    Examples
    --------
    >>> strength_words({"100": 12.0, "400": 1.5}, {"100": 2.0, "400": 0.0})
    'At or above 100 µm: 12.0, after 2.0 mm/cm²; 400 µm: 1.5, after 0.00 mm/cm²'
    """
    parts = [
        f"{um} µm: {_shown(value)}"
        + (f", after {_shown(after[um])}" if after and um in after else "")
        + f" {unit}"
        for um, value in weakest_first(before)
    ]
    return f"At or above {'; '.join(parts)}"


def _shown(value: float) -> str:
    """With as many digits as the report writes: in inches all of them may lie below 1."""
    return figure_words("density all", value)


def weakest_first(spectrum: Spectrum) -> list[tuple[str, float]]:
    """Strengths in their order; result files are sorted by name, which puts 50 behind 400.

    Examples
    --------
    >>> weakest_first({"100": 2.0, "50": 3.0})
    [('50', 3.0), ('100', 2.0)]
    """
    return sorted(spectrum.items(), key=lambda one: float(one[0]))


def strength_svg(before: Spectrum, after: Spectrum | None = None, *, dark: bool = False) -> str:
    """Draw it: an outlined bar before, a full one after, each with its figure.

    Parameters
    ----------
    before, after : mapping
        `strength_mm_per_cm2` of `measure --json`, at both stages or at one.
    """
    look = DARK if dark else LIGHT
    most = max([*before.values(), *(after or {}).values(), 1e-9])
    drawn, rows = [], 2 if after is not None else 1
    thick = (ROW - 6) / rows
    for number, (um, value) in enumerate(weakest_first(before)):
        y = TOP + number * ROW
        drawn.append(_words(LEFT - 8, y + (ROW - 6) / 2, f"≥ {um} µm", look["ink"], anchor="end"))
        drawn += _bar(value, most, y, thick, f'fill="none" stroke="{look["ink"]}" stroke-width="1.5"', look)
        if after is not None:
            full = f'fill="{look["bar"]}"'
            drawn += _bar(after.get(um, 0.0), most, y + thick, thick, full, look)
    height = TOP + len(before) * ROW + 4
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" '
        f'font-family="system-ui, sans-serif">{"".join(drawn)}</svg>'
    )


def _bar(value: float, most: float, y: float, thick: float, how: str, look: Mapping[str, str]) -> list[str]:
    wide = value / most * (WIDTH - LEFT - RIGHT)
    return [
        f'<rect x="{LEFT}" y="{y + 1:.1f}" width="{max(wide, 1):.1f}" height="{thick - 2:.1f}" {how}/>',
        _words(LEFT + wide + 6, y + thick / 2, _shown(value), look["ink"]),
    ]


def _words(x: float, y: float, words: str, ink: str, *, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="13" fill="{ink}" text-anchor="{anchor}" '
        f'dominant-baseline="central">{words}</text>'
    )
