"""What every full report says of the method, its limits and its cautions, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from defectmap.panel.tuning import LONGEST_HALF_MM, SCRATCH_HALF, SPOT_HALF_PER_CM2, SWIRL_HALF
from defectmap.report.content import Passage, PhotographEntry
from defectmap.words.report_words import HOW, HOW_FILMS, IN_SHORT, UNSAID, plain_words
from defectmap.words.units import light_words
from defectmap.words.writer import ENGLISH, Writer


def in_short(*, films: bool = False, calibrated: bool = True, writer: Writer = ENGLISH) -> tuple[str, ...]:
    """How to read a report, for somebody who does so for the first time.

    `films` where a panel was filmed, `calibrated` where a photograph has a scale.
    """
    codes = (writer.style.length if calibrated else "px", "range", *(("films",) if films else ()))
    return tuple(writer.tell(IN_SHORT[code]) for code in codes)


def method(*, films: bool = False, writer: Writer = ENGLISH) -> tuple[Passage, ...]:
    """The passages of the full version; `films` where a panel was filmed."""
    weights = {
        "swirl": SWIRL_HALF,
        "scratch": SCRATCH_HALF,
        "longest": LONGEST_HALF_MM,
        "spot": SPOT_HALF_PER_CM2,
    }
    how = [writer.tell(words, **weights) for words in HOW.values()]
    how += [writer.tell(words) for words in HOW_FILMS.values()] if films else []
    limits = tuple(writer.tell(words) for words in UNSAID.values())
    return (
        Passage(heading=writer.tell("How it was measured"), sentences=tuple(how)),
        Passage(heading=writer.tell("What the figures do not say"), sentences=limits),
    )


def conditions(
    photographs: Sequence[PhotographEntry], *, setup: str | None = None, writer: Writer = ENGLISH
) -> tuple[str, ...]:
    """Under which conditions the photographs were taken, in sentences that hold for all of them.

    Parameters
    ----------
    photographs : sequence of PhotographEntry
        All of the report.
    setup : str, optional
        Name of the set-up whose repeatability was used.
    writer : Writer, optional
        Of the shop.
    """
    taken = [photo for photo in photographs if photo.refused is None]
    days = sorted({photo.taken_day for photo in taken if photo.taken_day})
    said = []
    if days:
        shown = [writer.day(day) for day in days]
        said.append(
            writer.tell("Photographed on {days} (camera clock).", days=writer.listed(shown))
            if len(days) <= 3
            else writer.tell(
                "Photographed between {first} and {last} (camera clock).", first=shown[0], last=shown[-1]
            )
        )
    scales = sorted({photo.scale for photo in taken})
    if scales:
        said.append(writer.tell("Scale: {scales}.", scales="; ".join(scales)))
    limits = [photo.limit_contrast for photo in taken if photo.limit_contrast is not None]
    if limits:
        values = {
            "light": light_words(min(limits), max(limits), writer=writer),
            "length": taken[0].limit_length,
        }
        said.append(
            writer.tell(
                "The faintest bright mark that shows is {light}, by photograph, over at least {length}.",
                **values,
            )
            if len(set(limits)) > 1
            else writer.tell(
                "The faintest bright mark that shows is {light}, over at least {length}.", **values
            )
        )
    if setup:
        said.append(
            writer.tell(
                "How well a photograph repeats was measured with the set-up '{setup}'.",
                setup=plain_words(setup),
            )
        )
    return tuple(said)
