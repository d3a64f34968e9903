"""Sentences about one photograph or film: what makes its figures less sure, and why it is refused."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.words.remark import Remark, Table, Value, sentence
from defectmap.words.writer import ENGLISH, N_, Writer

WARNINGS: Table = {
    "several-pictures": "The file holds several pictures; only the first is measured.",
    "merged": "The file says that several exposures were merged (HDR), which changes contrast; switch it "
    "off.",
    "printing-colours": "The colours are CMYK, made for printing; brightness is approximate: use the "
    "camera's file.",
    "unknown-colours": "The colour profile is neither sRGB nor Display P3; sRGB was assumed for brightness.",
    "see-through": "Transparent parts of the picture count as black.",
    "iso-untold": "The file does not tell its ISO, so faint marks are judged as at about ISO {iso:.0f}, as "
    "its grain shows; use the camera's own file (messengers and screenshots drop it), and compare only "
    "photographs that tell it.",
    "iso-untold-clean": "The file does not tell its ISO, so faint marks are judged as at ISO 100; use the "
    "camera's own file (messengers and screenshots drop it), and compare only photographs that tell it.",
    "scale-unknown": "The scale is unknown, so lengths are in pixels: show the printed card or give a scale.",
    "scale-rough": "Only {markers} of the card's 5 markers can be read, so the scale is rough; show it "
    "whole.",
    "tilted": "The camera is tilted {tilt_deg:.0f} degrees against the panel (limit {limit_deg:g}): the "
    "scale varies by {spread:.0%} across the picture; hold it square.",
    "tilted-far": "The camera is tilted {tilt_deg:.0f} degrees against the panel (limit {limit_deg:g}): the "
    "scale cannot be determined across the picture; hold it square.",
    "scales-disagree": "The given scale, {given:.4g} px per mm, and the card's, {card:.4g}, differ by "
    "{share:.0%}; the given one was used. Check it, and that the card was printed at 100 %.",
    "film-directions": "Of all directions of groove, this sweep could show {share:.0%}; its density counts "
    "marks of every lamp place and is not to be held against that of a single photograph.",
    "film-sweep-more": "Sweep the lamp over the whole picture and a little beyond, to and fro, to show more "
    "of them.",
    "film-breaks-off": "The film breaks off after {frames} of {said} frames; what was there is measured.",
    "film-unfit": "{frames} frames do not lie on the others and are left out.",
    "film-other-map": "The first frame could not be used; points are in pixels of frame {frame}, counted "
    "from 0.",
    "by-hand": "Corrected by hand: {kinds} marks given another kind, {areas} areas left out.",
    "uncalibrated": "uncalibrated: lengths in pixels, densities relative.",
    "kept": "{words}",  # from a result that an earlier version kept without codes
    "soft": "Slightly out of focus or shaken: the median mark is {width_px:.1f} px wide, so the finest are "
    "missed; focus on the paint and hold still.",
    "focus-unjudged": "There are too few marks to judge the focus by: look at dust or an edge at full size "
    "before you trust a clean result, or lay the scale card in the picture.",
    "crowded": "Marks are so dense that {share:.0%} of their length hides beside stronger ones; it is "
    "estimated from what shows, and counted.",
    "underexposed": "Underexposed: the lamp's reflection reaches {peak:.0%} of full scale, so faint marks "
    "are missed; expose until it is just white.",
    "off-centre": "The lamp's reflection is far from the middle; aim so that paint shows all round it.",
    "lines-not-round-the-lamp": "Many bright lines do not run round the lamp as lit marks do; they may be "
    "texture or reflections, so check the overlay before you trust the density.",
    "second-lamp": "A second light is reflected in the paint: its marks are counted with the lamp's, so the "
    "density reads high; switch it off or shade it, and retake the photograph.",
    "texture-left-out": "{area_cm2:.0f} cm² were left out: lines crowd there in every direction, as on "
    "trim, rubber or cloth.",
    "iso-contradicted": "The file tells ISO {iso:.0f}, but the picture is far smoother than that; it is "
    "judged by the grain that it shows.",
    "shadows-lifted": "By their grain, dark parts were lifted after the picture was taken (HDR, tone "
    "mapping): marks there may look stronger than they are, and the density read high; switch it off.",
    "noisy": "In half of the counted area marks fainter than {um:.0f} µm do not show, above the standard of "
    "{standard_um:.0f} µm, so the density reads low: {cure}.",
    "small-zone": "Marks can be counted on only {share:.0%} of the picture: {cause}; {cure}.",
    "no-zone": "{name} shows no place where a mark of the standard could be seen: {cause}. {Cure}.",
    "blurred": "{name} is too blurred: its lines are several times wider than marks in focus. Tap to focus "
    "on the paint beside the lamp's reflection, hold still, and retake it.",
    "no-panel": "{name} does not look like paint under a lamp: its bright lines run in every direction, "
    "where lit marks run round the light. Photograph a painted panel.",
    "repeating": "{name} shows a pattern that repeats itself, as cloth, mesh, print or a screen does, and no "
    "paint. Photograph the painted panel itself.",
}

# why too little of a picture can be counted, and what to do
CAUSES = {
    "bright": (
        N_("the paint is too bright there"),
        N_("expose less, or hold the lamp farther from the camera's mirror direction"),
    ),
    "far": (
        N_("it was taken from too far away"),
        N_("go nearer, until a millimetre spans 10 pixels or more"),
    ),
    "dark": (
        N_("the paint is too dark there"),
        N_("expose until the lamp's reflection is just white, or use a stronger lamp"),
    ),
    "noisy": (
        N_("the picture is too noisy"),
        N_("use a lower ISO and hold still, or bring more light"),
    ),
    "sparkle": (
        N_("the paint sparkles too much there"),
        N_("hold the camera steady and nearer, or film the spot while the lamp moves"),
    ),
}


def told(remark: Remark, *, writer: Writer = ENGLISH) -> str:
    """The sentence of a remark about a photograph or a film."""
    values = caused(remark.values, writer=writer)
    return sentence(Remark(code=remark.code, values=values), WARNINGS, writer=writer)


def caused(values: Mapping[str, Value], *, writer: Writer = ENGLISH) -> dict[str, Value]:
    """The values of a remark; a cause is put in words, with what to do about it."""
    found = dict(values)
    if found.get("cause") in CAUSES:
        cause, cure = (writer.tell(words) for words in CAUSES[str(found["cause"])])
        found |= {"cause": cause, "cure": cure, "Cure": cure[0].upper() + cure[1:]}
    return found
