"""The car from above, unfolded: each panel a plain shape, coloured by its score, labelled in words."""

from __future__ import annotations

import html
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from defectmap.pictures.car_shapes import CAR, GLASS, HEIGHT, Box
from defectmap.words.page_words import NOT_MEASURED, score_words

Rgb = tuple[int, int, int]

# One hue from dark to light, as in the sequential schemes of Brewer and Harrower (ColorBrewer, Cartographic
# Journal 40(1), 2003; values from memory): the order reads without a legend and without telling hues apart.
# The worse a panel, the darker it is, and the more strokes are drawn on it.
_SCALE: tuple[Rgb, ...] = ((16, 48, 92), (45, 100, 160), (120, 168, 212), (192, 217, 240), (247, 251, 255))
_STROKES = ((85.0, 0), (65.0, 4), (40.0, 9), (0.0, 18))  # in a panel, by the least score of its band
_UNKNOWN: Rgb = (226, 229, 233)
WIDTH = 640.0
_GHOST = 'fill="none" stroke="#7a828c" stroke-width="1" stroke-dasharray="4 5"'  # no panel of the job
_GLASS = 'fill="#7a828c" fill-opacity="0.18"'

_OTHER_COLUMNS, _OTHER_HEIGHT = 3, 17.0
_LETTER = 0.62  # width of a letter over its size, in wide fonts
_LOW = 70.0  # a shape lower than this holds one line


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelMark:
    """What the plan shows of one panel."""

    name: str
    score: float | None
    chosen: bool = False
    words: str | None = None  # what stands there instead of the score


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A numbered place on the plan of a car, in shares of its width and height."""

    number: int
    x: float
    y: float


def plan_svg(
    panels: Sequence[PanelMark], *, aliases: Mapping[str, str], kind: str = "car", dots: Sequence[Dot] = ()
) -> str:
    """Draw the plan.

    Parameters
    ----------
    panels : sequence of PanelMark
        The job's panels.
    aliases : mapping
        Other words for a panel to its standard name.
    kind : str
        Of vehicle; only a car has a plan, others get a plain grid.
    dots : sequence of Dot
        Drawn over the panels.

    Returns
    -------
    str
        An SVG that says the same in its title and description.
    """
    places = places_of([panel.name for panel in panels], aliases=aliases, kind=kind)
    bottom = max((box[1] + box[3] for box in places.values()), default=10.0)
    on_car = kind == "car" and any(aliases.get(p.name, p.name) in CAR for p in panels)
    parts = [
        f'<g data-panel="{at}" role="button" tabindex="0" aria-label="{_label(panel)}">'
        f"{_shape(panel, places[panel.name])}</g>"
        for at, panel in enumerate(panels)
    ]
    if on_car:
        shown = {aliases.get(panel.name, panel.name) for panel in panels}
        parts = [
            *(_outline(box, round_px=10, how=_GHOST) for name, box in CAR.items() if name not in shown),
            *(_outline(box, round_px=8, how=_GLASS) for box in GLASS),
            *parts,
        ]
        bottom = max(bottom, 98.0)
    height = (bottom + 1) * WIDTH / 100
    words = "; ".join(f"{panel.name}: {words_for(panel)}" for panel in panels)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" '
        'font-family="system-ui, sans-serif">'
        f"<title>Plan of the vehicle from above</title><desc>{html.escape(words)}</desc>"
        f"{''.join(parts)}{''.join(_dot(one) for one in dots)}</svg>"
    )


def _dot(dot: Dot) -> str:
    x, y = dot.x * WIDTH, dot.y * HEIGHT * WIDTH / 100
    return (
        f'<g pointer-events="none"><circle cx="{x:.1f}" cy="{y:.1f}" r="13" fill="#c2410c" stroke="#fff" '
        f'stroke-width="2"/><text x="{x:.1f}" y="{y:.1f}" font-size="16" font-weight="700" fill="#fff" '
        f'text-anchor="middle" dominant-baseline="central">{dot.number}</text></g>'
    )


def words_for(panel: PanelMark) -> str:
    """Score and band of one panel.

    Examples
    --------
    >>> words_for(PanelMark(name="roof", score=95.9))
    '96, clear'
    """
    if panel.words is not None:
        return panel.words
    return NOT_MEASURED if panel.score is None else f"{panel.score:.0f}, {score_words(panel.score)}"


def places_of(names: Sequence[str], *, aliases: Mapping[str, str], kind: str) -> dict[str, Box]:
    """A box for each panel: its place on the car, or one in the rows below."""
    places: dict[str, Box] = {}
    taken: set[str] = set()
    others: list[str] = []
    for name in names:
        standard = aliases.get(name, name)
        if kind == "car" and standard in CAR and standard not in taken:
            places[name] = CAR[standard]
            taken.add(standard)
        else:
            others.append(name)
    top = 101.0 if taken else 0.0
    width = 100 / _OTHER_COLUMNS
    for number, name in enumerate(others):
        row, column = divmod(number, _OTHER_COLUMNS)
        places[name] = (column * width + 0.5, top + row * (_OTHER_HEIGHT + 1), width - 1, _OTHER_HEIGHT)
    return places


def colour_of(score: float | None) -> Rgb:
    """Colour of a score from 0 to 100; grey where there is none."""
    if score is None:
        return _UNKNOWN
    at = min(max(score, 0.0), 100.0) / 100 * (len(_SCALE) - 1)
    low = min(int(at), len(_SCALE) - 2)
    part = at - low
    red, green, blue = (round(a + (b - a) * part) for a, b in zip(_SCALE[low], _SCALE[low + 1], strict=True))
    return red, green, blue


def text_on(colour: Rgb) -> Rgb:
    """Black or white, whichever stands out more on that colour."""
    black, white = (0, 0, 0), (255, 255, 255)
    return black if contrast(colour, black) >= contrast(colour, white) else white


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio).

    Examples
    --------
    >>> contrast((255, 255, 255), (0, 0, 0))
    21.0
    """
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(colour: Rgb) -> float:
    """Relative luminance (WCAG 2.2, definition of relative luminance)."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (part / 255 for part in colour)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _shape(panel: PanelMark, box: Box) -> str:
    left, top, width, height = (side * WIDTH / 100 for side in box)
    fill = colour_of(panel.score)
    ink = _hex(text_on(fill))
    narrow = width < 60
    middle_x, middle_y = left + width / 2, top + height / 2
    # The outline is grey, so that it shows on light and dark pages alike.
    edge = '#c2410c" stroke-width="5' if panel.chosen else '#7a828c" stroke-width="1.5'
    said = panel.words if panel.words is not None else NOT_MEASURED
    shape = (
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{height:.1f}" rx="10" '
        f'fill="{_hex(fill)}" stroke="{edge}"/>'
    )
    if narrow:
        words = ("–" if panel.words is None else "") if panel.score is None else f"{panel.score:.0f}"
        return shape + _text(words, middle_x, middle_y, 20, ink)
    score = said if panel.score is None else f"{panel.score:.0f}"
    if height < _LOW:
        line = f"{panel.name}: {score}" if score else panel.name
        return shape + _text(line, middle_x, middle_y, 19, ink)
    shape += _strokes(panel, (left, top, width, height), ink)
    # Sizes are chosen for a phone, on which the drawing is about half as wide as its own units.
    lines = _wrapped(panel.name, characters=max(6, math.floor(width / 10.5)))
    rows = [(line, 19.0) for line in lines]
    rows += [(score, 34.0 if panel.score is not None else 17.0)] if score else []
    band = "" if panel.score is None else score_words(panel.score)
    if band and sum(size for _, size in rows) * 1.15 + 24 < height:
        rows.append((band, min(18.0, 0.94 * width / (_LETTER * len(band)))))
    above = 7 if panel.score is not None else 0  # of the strokes along the lower edge
    y = middle_y - above - sum(size * 1.15 for _, size in rows) / 2
    parts = [shape]
    for words, size in rows:
        parts.append(_text(words, middle_x, y + size * 0.6, size, ink))
        y += size * 1.15
    return "".join(parts)


def _label(panel: PanelMark) -> str:
    words = words_for(panel)
    return html.escape(f"{panel.name}, {words}" if words else panel.name, quote=True)


def _strokes(panel: PanelMark, box: Box, ink: str) -> str:
    """Short strokes along the lower edge, the more the worse: below the words, so that these stay clear."""
    if panel.score is None:
        return ""
    left, top, width, height = box
    number = next(strokes for least, strokes in _STROKES if panel.score >= least)
    step = (width - 24) / max(number, 1)
    lines = "".join(
        f"M{left + 12 + (at + 0.5) * step:.1f} {top + height - 6:.1f}l{5 - 3 * (at % 3)} -10"
        for at in range(number)
    )
    return f'<path d="{lines}" stroke="{ink}" stroke-width="1.6" stroke-opacity="0.7"/>' if lines else ""


def _text(words: str, x: float, y: float, size: float, ink: str) -> str:
    bold = ' font-weight="700"' if size >= 20 else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:.0f}" fill="{ink}" text-anchor="middle" '
        f'dominant-baseline="central"{bold}>{html.escape(words)}</text>'
    )


def _wrapped(words: str, *, characters: int) -> list[str]:
    """At most two lines; a name that is longer ends in an ellipsis."""
    lines = [""]
    for word in words.split():
        joined = f"{lines[-1]} {word}".strip()
        if len(joined) <= characters or not lines[-1]:
            lines[-1] = joined
        else:
            lines.append(word)
    if len(lines) > 2:
        lines = [lines[0], lines[1] + " …"]
    return [line if len(line) <= characters + 2 else line[:characters] + "…" for line in lines]


def _outline(box: Box, *, round_px: int, how: str) -> str:
    left, top, width, height = (side * WIDTH / 100 for side in box)
    at = f'x="{left:.1f}" y="{top:.1f}" width="{width:.1f}" height="{height:.1f}"'
    return f'<rect {at} rx="{round_px}" {how}/>'


def _hex(colour: Rgb) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
