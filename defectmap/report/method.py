"""What every full report says of the method, its limits and its cautions, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from defectmap.panel.finish import LONGEST_HALF_MM, SCRATCH_HALF, SPOT_HALF_PER_CM2, SWIRL_HALF
from defectmap.report.content import Passage, PhotographEntry
from defectmap.words.report_words import listed, plain_words
from defectmap.words.units import light_words

IN_SHORT = (
    "Each place was photographed before and after with the same lamp. A program traced every bright and "
    "dark line that stands out from the noise and added up their length in mm for each cm² of paint, over "
    "the same area both times.",
    "The 95 % interval says how far the true change may lie from the figure: if the range includes no "
    "change, no change is claimed.",
)
METHOD: tuple[Passage, ...] = (
    Passage(
        heading="How it was measured",
        sentences=(
            "One lamp is reflected in the paint. Every groove whose walls throw that lamp into the camera "
            "shows as a line about the reflection; in the bright halo the same grooves show dark. Both are "
            "traced.",
            "Marks count only in a zone about the reflection that is set by light and noise, never by the "
            "marks in it, so that a better finish is not judged over a smaller area.",
            "Long and straight lines count as scratches, lines with at least seven others beside them on the "
            "same course as buffer trails, and all others as swirl marks. That is a judgement by shape: on "
            "rendered panels about four fifths of the length of scratches is given its kind.",
            "Density is the length of all traced lines over the area of that zone, in mm/cm² (length per "
            "area, as stereology uses it). Before and after are compared over the area that both show, at "
            "equal distance from the reflection.",
            "The interval comes from resampling sectors about the reflection (block bootstrap), from how "
            "well one photograph repeats with this set-up, and from any difference in exposure that is "
            "left. Three places or more on one panel are treated as a sample of it (Student's t on the "
            "logarithm of the ratio, paired). The mean over panels counts each panel the same and joins "
            "their intervals; it speaks of these panels.",
            f"The finish score is 100 / (1 + swirl marks / {SWIRL_HALF:g} + buffer trails / {SWIRL_HALF:g} + "
            f"scratches / {SCRATCH_HALF:g} + longest scratch / {LONGEST_HALF_MM:g} + water spots / "
            f"{SPOT_HALF_PER_CM2:g}), densities in mm/cm², the longest scratch in mm, water spots a cm². Its "
            "weights are a choice of this program, not a standard. Haze is how far the lamp's halo reaches; "
            "its level depends on the lamp, so only its change under one lamp means anything.",
        ),
    ),
    Passage(
        heading="What the figures do not say",
        sentences=(
            "They are of visible marks under this lamp. A scratch that points at the reflection is "
            "invisible in that photograph, so this is never a count of all scratches.",
            "A mark fainter or shorter than the detection limit of a photograph is not counted. 'No mark' "
            "means none above that limit.",
            "One photograph does not show how deep a mark is or how much clear coat is left.",
            "They speak of the places that were photographed. Only three places or more on a panel let the "
            "figures speak of the panel. The places were chosen by whoever photographed them, not drawn by "
            "lot.",
            "They do not say how long the finish lasts.",
            "Polishing oils, glazes and some protections hide marks. Only a photograph of bare paint after "
            "a solvent wipe can show that marks are gone.",
            "This method is the program's own. It follows no standard and was certified by nobody.",
        ),
    ),
)


def conditions(photographs: Sequence[PhotographEntry], *, setup: str | None = None) -> tuple[str, ...]:
    """Under which conditions the photographs were taken, in sentences that hold for all of them.

    Parameters
    ----------
    photographs : sequence of PhotographEntry
        All of the report.
    setup : str, optional
        Name of the set-up whose repeatability was used.
    """
    taken = [photo for photo in photographs if photo.refused is None]
    days = sorted({photo.taken[:10] for photo in taken if photo.taken != "–"})
    said = []
    if days:
        said.append(
            f"Photographed on {listed(days)} (camera clock)."
            if len(days) <= 3
            else f"Photographed between {days[0]} and {days[-1]} (camera clock)."
        )
    scales = sorted({photo.scale for photo in taken})
    if scales:
        said.append(f"Scale: {'; '.join(scales)}.")
    limits = [photo.limit_contrast for photo in taken if photo.limit_contrast is not None]
    if limits:
        said.append(
            f"The faintest bright mark that is counted is {light_words(min(limits), max(limits))}"
            f"{', by photograph' if len(set(limits)) > 1 else ''}, over at least "
            f"{taken[0].limit.rpartition(' over ')[2]}."
        )
    if setup:
        said.append(f"How well a photograph repeats was measured with the set-up '{plain_words(setup)}'.")
    return tuple(said)
