"""One picture sized for posting: one panel before and after, with figure, interval and conditions in it.

The words are part of the pixels, because captions get lost when a picture is passed on. All measured panels
stand in the last line, so that one good panel does not speak for the others.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from defectmap.errors import DefectmapError
from defectmap.pictures.legend import wrapped
from defectmap.report.content import FigureRow, PanelSection, PicturePair, Report
from defectmap.report.overall import middle_panel
from defectmap.words.writer import ENGLISH, N_, Writer

WIDTH_PX, HEIGHT_PX = 1080, 1080  # a square is shown whole everywhere
MARK_PX = (240, 90)  # room for the shop's own mark
GAP_PX, MARGIN_PX = 12, 40
SMALLEST = 0.6  # of the usual size of letters, for long names
Line = tuple[str, int, bool]  # words, size, whether they are what is to be seen first
PAPER, INK, QUIET = (20, 25, 30), (240, 244, 247), (178, 190, 200)
FONTS = Path(__file__).with_name("fonts")


class NothingToPost(DefectmapError):
    """The panel has no pictures, or its photographs may not be compared."""


def posting_picture(report: Report, *, panel: str | None = None) -> bytes:
    """Draw the picture.

    Parameters
    ----------
    report : Report
        With pictures.
    panel : str, optional
        Which panel; the one in the middle by its change if not given.

    Returns
    -------
    bytes
        A JPEG of 1080 × 1080 px without metadata.

    Raises
    ------
    NothingToPost
        There is no such panel, or it cannot be compared.
    """
    section = panel_to_post(report, panel)
    picture = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), PAPER)
    draw = ImageDraw.Draw(picture)
    bottom = _paste(picture, draw, section.pairs[0], Writer(report.style))
    if report.mark is not None:
        _put_mark(picture, report.mark, bottom)
    lines = list(_lines(report, section))
    room = HEIGHT_PX - bottom - MARGIN_PX
    shrink = 1.0
    while _words(draw, lines, top=bottom, shrink=shrink, show=False) > room and shrink > SMALLEST:
        shrink -= 0.05
    spare = room - _words(draw, lines, top=bottom, shrink=shrink, show=False)
    _words(draw, lines, top=bottom + max(0.0, spare / 2) + MARGIN_PX / 2, shrink=shrink, show=True)
    file = io.BytesIO()
    picture.save(file, format="JPEG", quality=90, subsampling=0)
    return file.getvalue()


def panel_to_post(report: Report, name: str | None = None) -> PanelSection:
    """The panel that a picture for posting shows.

    Parameters
    ----------
    report : Report
        With pictures.
    name : str, optional
        Which panel; the one in the middle by its change if not given.

    Raises
    ------
    NothingToPost
        There is no such panel, or it cannot be compared.
    """
    if name is None:
        found = middle_panel(report.panels)
    else:
        called = (name, Writer(report.style).term(name))
        found = next((panel for panel in report.panels if panel.name in called), None)
    if found is None:
        raise NothingToPost(
            f"There is no panel {name!r} in this report; its panels are "
            f"{', '.join(panel.name for panel in report.panels)}."
            if name
            else "No panel of this report can be shown before and after; look at the reasons in the report."
        )
    if not found.compared or not found.pairs:
        raise NothingToPost(
            f"The photographs of {found.name} cannot be compared, so a picture of before and after would "
            "mislead; photograph it again as the report says."
        )
    return found


def _paste(picture: Image.Image, draw: ImageDraw.ImageDraw, pair: PicturePair, writer: Writer) -> int:
    """Put both pictures side by side; returns the row below them."""
    side = (WIDTH_PX - GAP_PX) // 2
    for number, (part, word) in enumerate(
        ((pair.before, writer.tell("Before")), (pair.after, writer.tell("After")))
    ):
        left = number * (side + GAP_PX)
        shown = Image.open(io.BytesIO(part.jpeg)).resize((side, side), Image.Resampling.LANCZOS)
        picture.paste(shown, (left, 0))
        draw.text(
            (left + 20, 14), word, font=_font(34, bold=True), fill=INK, stroke_width=3, stroke_fill=(0, 0, 0)
        )
    return side


def _put_mark(picture: Image.Image, mark: bytes, top: int) -> None:
    """Put the shop's own mark at the right, beside its name."""
    shown = Image.open(io.BytesIO(mark)).convert("RGB")
    shown.thumbnail(MARK_PX)
    picture.paste(shown, (WIDTH_PX - MARGIN_PX - shown.width, top + MARGIN_PX // 2))


def _lines(report: Report, section: PanelSection) -> Iterator[Line]:
    writer = Writer(report.style)
    row = section.figure("density all")
    if report.shop:
        yield report.shop, 30, False
    yield section.name[:1].upper() + section.name[1:], 46, True
    yield writer.tell("Visible marks: {change}", change=row.change_text), 46, True
    figures = writer.tell(
        "{before} to {after} {unit}", before=row.before_text, after=row.after_text, unit=row.unit
    )
    spread = writer.tell("range {range}", range=row.interval_text) if row.interval_text else ""
    yield "; ".join(filter(None, (figures, spread))), 32, False
    yield _places(section, writer), 28, False
    yield _wiped(section, writer), 28, False
    if section.by_hand:
        yield section.by_hand, 28, False
    yield " ".join(report.conditions[:1]), 28, False
    if report.tally.measured > 1:
        yield _everyone(report, writer), 28, False


def _places(section: PanelSection, writer: Writer) -> str:
    values = {"places": size_words(section.areas_cm2 or (0.0,) * section.spots, writer=writer)}
    if section.same_lamp:
        return writer.tell("Length of visible marks at {places}, the same lamp by every check.", **values)
    return writer.tell("Length of visible marks at {places}.", **values)


def _wiped(section: PanelSection, writer: Writer) -> str:
    if section.supported_word == "removed":
        return writer.tell("Wiped with solvent before the photograph, by the shop's own entry.")
    return writer.tell("Less visible, not shown to be removed.")


def places_words(report: Report, *, writer: Writer = ENGLISH) -> str:
    """How many places of what size the compared panels rest on."""
    areas = [area for panel in report.compared for area in panel.areas_cm2]
    spots = sum(panel.spots for panel in report.compared)
    return size_words(areas or [0.0] * spots, writer=writer)


def size_words(areas_cm2: Sequence[float], *, writer: Writer = ENGLISH) -> str:
    """A number of places and their size.

    Examples
    --------
    >>> size_words([60.2, 113.0, 90.0]), size_words([0.0])
    ('3 places of 60 to 113 cm²', '1 place')
    """
    number = len(areas_cm2)
    if not number or min(areas_cm2) <= 0:
        return writer.tell_many("{number} place", "{number} places", number)
    ends = [writer.number(writer.area(end(areas_cm2)), 0) for end in (min, max)]
    size = ends[0] if ends[0] == ends[1] else writer.tell("{low} to {high}", low=ends[0], high=ends[1])
    return writer.tell_many(
        "{number} place of {size} {unit}",
        "{number} places of {size} {unit}",
        number,
        size=size,
        unit=writer.area_unit,
    )


def _everyone(report: Report, writer: Writer) -> str:
    """All measured panels in one line."""
    rows = [panel.figure("density all") for panel in report.compared]
    known = sorted((row for row in rows if row.change_percent is not None), key=_change)
    unproven = report.tally.undecided + report.tally.not_comparable
    parts = []
    every = N_("All {number} measured panels of this car: {least} to {most}.")
    if report.tally.measured == 2:
        every = N_("Both measured panels of this car: {least} to {most}.")
    if known:
        parts.append(
            writer.tell(
                every, number=report.tally.measured, least=known[-1].change_text, most=known[0].change_text
            )
        )
    if unproven:
        parts.append(
            writer.tell_many(
                "{number} panel without a measurable change.",
                "{number} panels without a measurable change.",
                unproven,
            )
        )
    return " ".join(parts)


def _change(row: FigureRow) -> float:
    return row.change_percent or 0.0


def _words(draw: ImageDraw.ImageDraw, lines: list[Line], *, top: float, shrink: float, show: bool) -> float:
    """Write the lines below `top` (or only measure them); returns their height."""
    y = top
    for words, usual, first in lines:
        size = round(usual * shrink)
        font = _font(size, bold=first)
        for line in wrapped(font, words, width=WIDTH_PX - 2 * MARGIN_PX):
            if show:
                draw.text((MARGIN_PX, y), line, font=font, fill=INK if first else QUIET)
            y += 1.32 * size
        y += 0.35 * size
    return y - top


@cache
def _font(size: int, *, bold: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(FONTS / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"), size)
