"""The capture guide: its numbers, its labels, and its sections out of `sentences.toml`.

Distances, the number of spots and what to lock are the limits that this program works in; the rest is common
practice, no source. The lamp's risk groups are those of IEC 62471. The sheet is drawn with a font that knows
Latin-1 only, so nothing beyond that stands here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from defectmap.words.sentence_tables import words_table

TITLE = "Photographing paint so that it can be measured"
PHONE_CM = (30, 50)  # from the paint
LAMP_CM = (50, 70)  # from the paint: about an arm's length
OTHER_SIDE = "Read the cautions on the other side first. Never look into the lamp or its reflection."
FEWEST_SPOTS = 3  # from so many on, a figure speaks of the panel


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One thing to do or to mind, with the word that it is found by."""

    lead: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Items under one heading."""

    heading: str
    items: tuple[Item, ...]


_NUMBERS = {
    "phone_near": PHONE_CM[0],
    "phone_far": PHONE_CM[1],
    "lamp_near": LAMP_CM[0],
    "lamp_far": LAMP_CM[1],
    "spots": FEWEST_SPOTS,
}


def _told(subject: str) -> Iterator[tuple[str, str]]:
    """What each sentence of a subject is found by, and the sentence with its numbers in."""
    for lead, words in words_table(subject).items():
        yield lead, words.format(**_NUMBERS)


def _section(heading: str) -> Section:
    items = tuple(Item(lead=lead, words=words) for lead, words in _told(f"guide: {heading}"))
    return Section(heading=heading, items=items)


IN_SHORT = tuple(words for _, words in _told("guide in short"))
SETTING_UP = _section("Set up")
TAKING = _section("Take the photograph")
SPOTS = _section("How many, and when")
CAUTIONS = _section("Cautions")

NOTES = (
    "Job, day",
    "Lamp, power step",
    "Lamp to paint, cm",
    "Phone to paint, cm",
    "Phone, lens",
    "Time, ISO",
    "Spot 1 from edges, cm",
    "Spot 2 from edges, cm",
    "Spot 3 from edges, cm",
    "Card or picture width",
)
SECTIONS = (SETTING_UP, TAKING, SPOTS, CAUTIONS)
FILL_IN = "Write down, for the next time"
# Labels of the two drawings.
SPAN = "{low} to {high} cm"
SQUARE = ("phone, square to", "the paint")
BESIDE = "one lamp, close beside the phone"
CARD = "card"
REFLECTION = "reflection: look at it on the screen only"
ON_SCREEN = "On the screen: one small disc, just white, paint all round it"
BELOW = "Marks run round it; the card lies beside them, in sharp focus."
LABELS = (SPAN, *SQUARE, BESIDE, CARD, REFLECTION, ON_SCREEN, BELOW)
