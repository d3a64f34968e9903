"""What stands on and under an overlay in words: scale bar, line samples, figures with their units."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from defectmap.panel.measurement import PanelMeasurement, Scale
from defectmap.panel.tuning import STANDARD_UM
from defectmap.pictures.palette import FAINT, PINK, STYLES, WHITE, YELLOW, LineStyle, Rgb
from defectmap.words.filling import MM_PER_INCH
from defectmap.words.photo_words import told
from defectmap.words.units import light_words, no_score_words, scale_sentence, unit_names

RgbArray = NDArray[np.uint8]
FONT = Path(__file__).resolve().parents[1] / "report" / "fonts" / "DejaVuSans.ttf"
_BACKGROUND: Rgb = (24, 24, 24)
_NAMES = {"trail": "buffer trails"}
BAR_WORDS_SHARE = 36  # of the width: 10 px high where a phone shows the picture 356 px wide


@dataclass(frozen=True, slots=True)
class _Entry:
    """One sample with its words; `draw` paints the sample into a box of the given corner and size."""

    words: str
    draw: Callable[[ImageDraw.ImageDraw, float, float, float], None]


def draw_scale_bar(rgb: RgbArray, *, px_per_unit: float, scale: Scale, inches: bool = False) -> None:
    """Draw a bar of a round length, about a fifth of the picture wide, into the lower left corner, in place.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 ndarray
        The picture.
    px_per_unit : float
        Pixels of this picture for a millimetre (a pixel of the photograph, where the scale is unknown).
    scale : Scale
        Tells the unit's name.
    inches : bool, optional
        A bar of so many inches; pixels stay pixels.
    """
    height, width = rgb.shape[:2]
    unit = unit_names(scale).length
    if inches and scale.calibrated:
        unit, px_per_unit = "in", px_per_unit * MM_PER_INCH
    length = round_length(0.2 * width / px_per_unit)
    size = max(13, round(width / BAR_WORDS_SHARE))
    font = _font(size)
    picture = Image.fromarray(rgb)
    draw = ImageDraw.Draw(picture)
    left, bottom, thick = size, height - size, max(2, size // 5)
    right = left + length * px_per_unit
    draw.rectangle((left - 2, bottom - thick - 2, right + 2, bottom + 2), fill=(0, 0, 0))
    draw.rectangle((left, bottom - thick, right, bottom), fill=WHITE)
    words = f"{length:g} {unit}"
    draw.text(
        (left, bottom - thick - 4),
        words,
        font=font,
        fill=WHITE,
        anchor="lb",
        stroke_width=2,
        stroke_fill=(0, 0, 0),
    )
    rgb[:] = np.asarray(picture)


def round_length(longest: float) -> float:
    """Return the largest of 1, 2, 5 times a power of ten that is not above `longest`.

    Examples
    --------
    >>> round_length(24.0), round_length(0.9)
    (20.0, 0.5)
    """
    decade = 10.0 ** np.floor(np.log10(longest))
    return float(max(step * decade for step in (1.0, 2.0, 5.0) if step * decade <= longest))


def add_legend(rgb: RgbArray, measurement: PanelMeasurement) -> RgbArray:
    """Return the picture with a band under it that explains each line and gives the figures.

    Parameters
    ----------
    rgb : (H, W, 3) uint8 ndarray
        The finished picture.
    measurement : PanelMeasurement
        Where the figures come from.

    Returns
    -------
    (H + band, W, 3) uint8 ndarray
    """
    width = rgb.shape[1]
    size = _font_size(width)
    font = _font(size)
    entries, sentences = _entries(measurement), _sentences(measurement)
    row_height = 1.6 * size
    places = _flow([font.getlength(entry.words) + 4 * size for entry in entries], width=width - 2 * size)
    lines = [line for sentence in sentences for line in wrapped(font, sentence, width=width - 2 * size)]
    rows = (places[-1][1] + 1 if places else 0) + len(lines)
    band = Image.new("RGB", (width, round(row_height * (rows + 0.6))), _BACKGROUND)
    draw = ImageDraw.Draw(band)
    for entry, (x, row) in zip(entries, places, strict=True):
        left, middle = size + x, row_height * (row + 0.8)
        entry.draw(draw, left, middle, size)
        _text(draw, (left + 2.4 * size, middle), entry.words, size=size)
    for index, line in enumerate(lines, start=rows - len(lines)):
        _text(draw, (size, row_height * (index + 0.8)), line, size=size)
    return np.concatenate([rgb, np.asarray(band)], axis=0)


def _entries(measurement: PanelMeasurement) -> list[_Entry]:
    units = unit_names(measurement.scale)
    found = {kind: [mark.length_mm for mark in measurement.marks if mark.kind == kind] for kind in STYLES}
    entries = [
        _Entry(
            f"{_NAMES.get(kind, kind)}: {_count(len(lengths), 'mark')}, {sum(lengths):.0f} {units.length}, "
            f"{getattr(measurement.density, kind):.2f} {units.density}",
            _line_sample(STYLES[kind]),
        )
        for kind, lengths in found.items()
        if lengths or kind != "trail"
    ]
    if faint := [mark.length_mm for mark in measurement.faint_marks]:
        words = (
            f"fainter than the standard: {_count(len(faint), 'mark')}, {sum(faint):.0f} {units.length} "
            "(depends on the camera, not counted)"
        )
        entries.append(_Entry(words, _line_sample(FAINT)))
    entries.append(_Entry(f"zone where marks count: {measurement.area_cm2:.1f} {units.area}", _dash_sample))
    if measurement.film is not None and measurement.film.lamps:
        words = _count(len(measurement.film.lamps), "place") + " of the lamp's reflection"
        entries.append(_Entry(words, _cross_sample))
    else:
        entries.append(_Entry(_lamp_words(measurement.hotspot.lamps), _ring_sample(YELLOW)))
    counts = {kind: sum(spot.kind == kind for spot in measurement.spots) for kind in ("dust", "water spot")}
    if any(counts.values()):
        words = f"dust {counts['dust']}, water spots {counts['water spot']} (not counted as marks)"
        entries.append(_Entry(words, _ring_sample(PINK)))
    return entries


def _sentences(measurement: PanelMeasurement) -> list[str]:
    units, limit = unit_names(measurement.scale), measurement.detection_limit
    if measurement.score is not None:
        score = f"Finish score {measurement.score:.1f} of 100"
    else:
        film, calibrated = measurement.film is not None, measurement.scale.calibrated
        score = f"No finish score ({no_score_words(calibrated=calibrated, film=film)})"
    faintest = (
        f"Faintest bright mark that shows (typical of this zone): {light_words(limit.contrast)}, over "
        f"{limit.length_mm:.2g} {units.length}. "
    )
    return [
        f"{score}, haze {measurement.haze:.3f}, longest scratch "
        f"{measurement.longest_scratch_mm:.1f} {units.length}. Scale: {scale_sentence(measurement.scale)}.",
        f"{'' if measurement.film else faintest}Lines run beside the marks that count: those of the "
        f"standard, with an equivalent width of at least {STANDARD_UM:g} µm over at least 1 mm. "
        "Picture brightened by one fixed curve (code to the power 0.6).",
        *(f"Warning: {told(warning)}" for warning in measurement.warnings),
    ]


def _lamp_words(lamps: int) -> str:
    return "lamp reflection" if lamps == 1 else f"reflection of {_count(lamps, 'lamp')}, one group"


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _line_sample(style: LineStyle) -> Callable[[ImageDraw.ImageDraw, float, float, float], None]:
    def paint(draw: ImageDraw.ImageDraw, left: float, middle: float, size: float) -> None:
        thick = max(1, round(style.width * size / 12))
        offsets: Sequence[float] = (-size / 4, size / 4) if style.sides == 2 else (0.0,)
        on, off = style.dash or (24.0, 0.0)
        starts = np.arange(0.0, 2.0, (on + off) / 12)
        parts = [(start, min(start + on / 12, 2.0)) for start in starts]
        for offset in offsets:
            for start, stop in parts:
                ends = (left + start * size, middle + offset, left + stop * size, middle + offset)
                draw.line(ends, fill=style.colour, width=thick)

    return paint


def _dash_sample(draw: ImageDraw.ImageDraw, left: float, middle: float, size: float) -> None:
    for start in (0.0, 0.8, 1.6):
        ends = (left + start * size, middle, left + (start + 0.4) * size, middle)
        draw.line(ends, fill=WHITE, width=max(1, round(size / 12)))


def _cross_sample(draw: ImageDraw.ImageDraw, left: float, middle: float, size: float) -> None:
    x, arm, thick = left + size, 0.4 * size, max(1, round(size / 8))
    draw.line((x - arm, middle, x + arm, middle), fill=YELLOW, width=thick)
    draw.line((x, middle - arm, x, middle + arm), fill=YELLOW, width=thick)


def _ring_sample(colour: Rgb) -> Callable[[ImageDraw.ImageDraw, float, float, float], None]:
    def paint(draw: ImageDraw.ImageDraw, left: float, middle: float, size: float) -> None:
        box = (left + 0.5 * size, middle - 0.5 * size, left + 1.5 * size, middle + 0.5 * size)
        draw.ellipse(box, outline=colour, width=max(1, round(size / 8)))

    return paint


def _flow(widths: Sequence[float], *, width: float) -> list[tuple[float, int]]:
    """Place boxes side by side, starting a new row where the next would not fit: (x, row) of each."""
    places: list[tuple[float, int]] = []
    x, row = 0.0, 0
    for wide in widths:
        if x > 0 and x + wide > width:
            x, row = 0.0, row + 1
        places.append((x, row))
        x += wide
    return places


def wrapped(font: ImageFont.FreeTypeFont, sentence: str, *, width: float) -> list[str]:
    """A sentence in lines that are no wider than that, in px; a word that is wider stands alone."""
    lines: list[str] = []
    for word in sentence.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and font.getlength(joined) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines


def _text(draw: ImageDraw.ImageDraw, place: tuple[float, float], words: str, *, size: int) -> None:
    """Write words, left and middle at `place`."""
    draw.text(place, words, font=_font(size), fill=WHITE, anchor="lm")


@cache
def _font(size: int) -> ImageFont.FreeTypeFont:
    """The font that the papers are written in: Pillow's own has no µ, ² or ×."""
    return ImageFont.truetype(FONT, size)


def _font_size(width_px: int) -> int:
    return max(13, round(width_px / 80))
