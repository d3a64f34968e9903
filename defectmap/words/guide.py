"""Every sentence of the capture guide, as data.

Distances, the number of spots and what to lock are the limits that this program works in; the rest is common
practice, no source. The lamp's risk groups are those of IEC 62471. The sheet is drawn with a font that knows
Latin-1 only, so nothing beyond that stands here.
"""

from __future__ import annotations

from dataclasses import dataclass

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


IN_SHORT = (
    "Wash, decontaminate and dry the panel; after polishing, wipe the oils off with a panel wipe and let it "
    "dry.",
    "One lamp in a dark room, about an arm's length from the paint and close beside the phone, so that its "
    "reflection is a small bright disc near the middle of the frame. Switch every other light off.",
    f"Hold the phone square to the paint, {PHONE_CM[0]} to {PHONE_CM[1]} cm away. Lock focus and exposure on "
    "the paint beside the reflection. Turn off HDR, night mode, flash and digital zoom; keep the original "
    "file.",
    "Lay the printed card flat on the clean panel beside the marks and hold its edge with low-tack tape. "
    "Never slide it: paper scratches paint. Check its ruler against a real one first.",
    f"Photograph at least {FEWEST_SPOTS} spots a panel. Before and after: the same spots, lamp, distances "
    "and exposure.",
    "Or film a spot, before and after: hold the phone still and move the lamp slowly over all of it. A film "
    "shows several times the marks of a photograph, and is compared with a film only.",
)

SETTING_UP = Section(
    heading="Set up",
    items=(
        Item(
            lead="Panel",
            words="Washed, decontaminated, dry and cool. Blow or lift lint off; do not wipe dust dry. After "
            "polishing, photograph only when the oils are wiped off and the panel has dried.",
        ),
        Item(
            lead="Room",
            words="Dark: no daylight, no ceiling lights, no bright screens or white shelves mirrored beside "
            "the spot.",
        ),
        Item(
            lead="Lamp",
            words=f"One small, bright lamp, {LAMP_CM[0]} to {LAMP_CM[1]} cm from the paint (about an arm's "
            "length), close beside the phone and a little behind it, best on a stand. Lamps of several LEDs "
            "show several reflections: cover all but one, where its maker allows, or take another. The same "
            "lamp at the same power step each time, its battery charged.",
        ),
        Item(
            lead="Distance",
            words=f"Phone {PHONE_CM[0]} to {PHONE_CM[1]} cm from the paint. Measure it once with a stick and "
            "keep it. Nearer shows finer marks; always with the same lens (1x or 2x, no zoom between).",
        ),
        Item(
            lead="Angle",
            words="The phone square to the paint, so that the card looks like a rectangle and not like a "
            "wedge. Move the lamp, not the phone, until its reflection is near the middle, with paint all "
            "round it.",
        ),
    ),
)

TAKING = Section(
    heading="Take the photograph",
    items=(
        Item(
            lead="Scale",
            words="The printed card flat beside the marks, all five markers in the frame and none in the "
            "reflection; tape its edge, never slide it. Or measure how many mm of panel the picture is wide.",
        ),
        Item(
            lead="Focus",
            words="Hold a finger on the paint beside the reflection, on the screen, until focus and exposure "
            "are locked. Hold still with both hands, or use a stand and the self-timer.",
        ),
        Item(
            lead="Exposure",
            words="With the lock on, lower it until the reflection is a small disc, just white, and the "
            "paint round it dark but not black. Use the same setting before and after: the same time and ISO "
            "where the phone lets you set them.",
        ),
        Item(
            lead="File",
            words="HDR, night mode, flash, filters and digital zoom off. Keep the original file; messengers "
            "and screenshots throw detail away.",
        ),
        Item(
            lead="Film",
            words="Instead of a photograph: phone still, best on a stand; lamp slowly to and fro over the "
            "whole spot and past its edges, 10 to 20 seconds, its reflection in view. Before and after "
            "alike.",
        ),
        Item(
            lead="Look",
            words="Before the car moves: marks sharp, one reflection, nothing else mirrored, card in the "
            "frame. The program says at once what to do better.",
        ),
    ),
)

SPOTS = Section(
    heading="How many, and when",
    items=(
        Item(
            lead="Spots",
            words=f"At least {FEWEST_SPOTS} a panel, far from each other, chosen before you look for marks: "
            f"fewer speak of themselves, not of the panel. Name them 1, 2, {FEWEST_SPOTS}.",
        ),
        Item(
            lead="Same place",
            words="Write down how far each spot is from two edges of the panel, and put the reflection back "
            "to within 1 or 2 cm. Some marks and the paint's texture must show in both photographs.",
        ),
        Item(
            lead="Before",
            words="Stage decontaminated: loose and bonded dirt is off, nothing is polished, nothing is "
            "masked.",
        ),
        Item(
            lead="Test spot",
            words="Stage test spot: after each step tried, wiped and dry, so that the gentlest one that does "
            "it is found.",
        ),
        Item(
            lead="Corrected",
            words="Stage corrected, if you like: oils still on. It proves nothing by itself, but shows how "
            "much they hide.",
        ),
        Item(
            lead="After",
            words="Stage wiped: oils wiped off and the panel dry. Only this one can show that marks are "
            "gone; one through a glaze, a filler or fresh protection cannot.",
        ),
        Item(
            lead="Repeat",
            words="Once for each set-up: the same spot five times, phone and lamp taken away and put back "
            "each time. The program learns from it how far figures scatter.",
        ),
    ),
)

CAUTIONS = Section(
    heading="Cautions",
    items=(
        Item(
            lead="Glare",
            words="Never look into the lamp or at its reflection in the paint, and keep it out of other "
            "people's eyes; look at the screen. Keep to the risk group (IEC 62471) and the distance that the "
            "lamp's maker gives.",
        ),
        Item(
            lead="Heat",
            words="Lamps and their housings get hot and stands fall over: keep paper, tape, cloths and "
            "solvents off them, cables out of the way and dry.",
        ),
        Item(
            lead="Solvents",
            words="Panel wipes burn and their vapours harm: small amounts, fresh air, gloves, no flames, "
            "sparks or hot lamps near; used cloths into a closed metal bin. Fresh paint, single-stage paint "
            "and plastic can be marked: try a hidden place first.",
        ),
        Item(
            lead="Machines",
            words="Unplugged and put aside while you photograph. Polishing heats and thins the coat, fastest "
            "on edges, body lines and repaired places: measure the film, stop in time. Eye protection, "
            "gloves and a dust mask, hearing protection with loud machines; cable and clothing clear of the "
            "pad.",
        ),
        Item(
            lead="Paint",
            words="Grit under paper, tape or a cloth scratches: touch clean, dry paint only. Tape can lift "
            "fresh or repainted coats; keep to the paint maker's waiting time.",
        ),
        Item(
            lead="First of all",
            words="The labels and safety data sheets of your products, the makers' instructions and your "
            "local rules come before this sheet; work that needs a licensed or trained person needs one here "
            "too.",
        ),
    ),
)

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
