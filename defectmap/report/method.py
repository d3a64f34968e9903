"""What every full report says of the method, its limits and its cautions, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from defectmap.panel.tuning import LONGEST_HALF_MM, SCRATCH_HALF, SPOT_HALF_PER_CM2, SWIRL_HALF
from defectmap.report.content import Passage, PhotographEntry
from defectmap.words.report_words import plain_words
from defectmap.words.units import light_words
from defectmap.words.writer import ENGLISH, Writer


def in_short(*, films: bool = False, writer: Writer = ENGLISH) -> tuple[str, ...]:
    """How to read a report, for somebody who does so for the first time; `films` where a panel was filmed."""
    said = [
        writer.tell(
            "Each place was photographed before and after. A program traced every line that stands out, and "
            "added up how long they are: 10 mm/cm² is a line of 10 mm on every square centimetre, about as "
            "large as a fingernail."
        )
        if writer.style.length == "mm"
        else writer.tell(
            "Each place was photographed before and after. A program traced every line that stands out, and "
            "added up how long they are: 3 in/in² are three lines as long as a postage stamp is wide, on an "
            "area as large as that stamp."
        ),
        writer.tell(
            "The range beside a change is where the true change lies in 19 of 20 measurements like this one "
            "(95 % confidence interval). If it includes no change, none is claimed."
        ),
    ]
    if films:
        said.append(
            writer.tell(
                "Where a place was filmed, the lamp moved over it meanwhile. One photograph shows the "
                "scratches of some directions, such a film nearly all: several times as many. So films are "
                "held against films."
            )
        )
    return tuple(said)


def method(*, films: bool = False, writer: Writer = ENGLISH) -> tuple[Passage, ...]:
    """The passages of the full version; `films` where a panel was filmed."""
    how = (*_how(writer), *(_how_films(writer) if films else ()))
    return (
        Passage(heading=writer.tell("How it was measured"), sentences=how),
        Passage(heading=writer.tell("What the figures do not say"), sentences=_limits(writer)),
    )


def _how(writer: Writer) -> tuple[str, ...]:
    return (
        writer.tell(
            "One lamp is reflected in the paint. Every groove whose walls throw that lamp into the camera "
            "shows as a line about the reflection; in the bright halo the same grooves show dark. Both are "
            "traced."
        ),
        writer.tell(
            "A mark counts if it is strong enough, whatever the camera: its equivalent width, the light that "
            "it adds or takes away over the light beside it, is at least 100 µm over at least 1 mm."
        ),
        writer.tell(
            "Marks count only in a zone about the reflection that is set by light and noise, never by the "
            "marks in it, so that a better finish is not judged over a smaller area."
        ),
        writer.tell(
            "Long and straight lines count as scratches, lines with at least seven others beside them on the "
            "same course as buffer trails, and all others as swirl marks. That is a judgement by shape."
        ),
        writer.tell(
            "Density is the length of all traced lines over the area of that zone (length per area, as "
            "stereology uses it). A photograph alone is counted over its own zone; before and after are "
            "compared over the common area of both, at equal distance from the reflection."
        ),
        writer.tell(
            "The interval comes from resampling sectors about the reflection (block bootstrap), from how "
            "well one photograph repeats with this set-up, and from any difference in exposure that is left. "
            "Three places or more on one panel are treated as a sample of it (Student's t on the logarithm "
            "of the ratio, paired). For several panels their densities are averaged, not their percentages; "
            "that figure speaks of these panels."
        ),
        writer.tell(
            "The finish score is 100 / (1 + swirl marks / {swirl:g} + buffer trails / {swirl:g} + scratches "
            "/ {scratch:g} + longest scratch / {longest:g} + water spots / {spot:g}), densities in mm/cm², "
            "the longest scratch in mm, water spots a cm². Its weights are a choice of this program, not a "
            "standard. Haze is how far the lamp's halo reaches; its level depends on the lamp, so only its "
            "change under one lamp means anything.",
            swirl=SWIRL_HALF,
            scratch=SCRATCH_HALF,
            longest=LONGEST_HALF_MM,
            spot=SPOT_HALF_PER_CM2,
        ),
    )


def _how_films(writer: Writer) -> tuple[str, ...]:
    return (
        writer.tell(
            "A film of one place is measured frame by frame; frames are laid on each other by the marks that "
            "they share. A mark counts once, as the frame shows it that shows it best. For each place and "
            "direction the lamp's places tell whether a mark could have shown."
        ),
        writer.tell(
            "Two films are compared where both could show a direction. Their interval comes from leaving out "
            "blocks of the panel and groups of frames in turn (jackknife). A film has no score, and no "
            "change of its longest scratch or haze is given."
        ),
    )


def _limits(writer: Writer) -> tuple[str, ...]:
    return (
        writer.tell(
            "They are of visible marks under this lamp. A scratch that points at the reflection is invisible "
            "in that photograph, so this is never a count of all scratches."
        ),
        writer.tell(
            "A mark fainter or shorter than that is not counted, and one too faint for a photograph is not "
            "seen. 'No mark' means none that counts."
        ),
        writer.tell("One photograph does not show how deep a mark is or how much clear coat is left."),
        writer.tell(
            "They speak of the places that were photographed. Only three places or more on a panel let the "
            "figures speak of the panel. The places were chosen by whoever photographed them, not drawn by "
            "lot."
        ),
        writer.tell("They do not say how long the finish lasts."),
        writer.tell(
            "Polishing oils, glazes and some protections hide marks. Only a photograph of bare paint after a "
            "solvent wipe can show that marks are gone. Whether it was wiped is what the shop entered."
        ),
        writer.tell("This method is the program's own. It follows no standard and was certified by nobody."),
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
