"""Sentences about one photograph: what makes its figures less sure, and why it is refused."""

from __future__ import annotations

from defectmap.words.remark import Remark, Table, sentence

WARNINGS: Table = {
    "soft": "Slightly out of focus or shaken: the median mark is {width_px:.1f} px wide, so the finest are "
    "missed; focus on the paint and hold still.",
    "underexposed": "Underexposed: the lamp's reflection reaches {peak:.0%} of full scale, so faint "
    "marks are missed; expose until it is just white.",
    "off-centre": "The lamp's reflection is far from the middle; aim so that paint shows all round it.",
    "lines-not-round-the-lamp": "Many bright lines do not run round the lamp as lit marks do; they may be "
    "texture or reflections, so check the overlay before you trust the density.",
    "second-lamp": "A second light is reflected in the paint: its marks are counted with the lamp's, so the "
    "density reads high; switch it off or shade it, and retake the photograph.",
    "texture-left-out": "{area_cm2:.0f} cm² were left out: lines crowd there in every direction, as on "
    "trim, rubber or cloth.",
    "iso-contradicted": "The file tells ISO {iso:.0f}, but the picture is far smoother than that; it is "
    "judged by the grain that it shows.",
    "noisy": "In half of the counted area marks fainter than {um:.0f} µm do not show, above the standard of "
    "{standard_um:.0f} µm, so the density reads low: {cure}.",
    "small-zone": "Marks can be counted on only {share:.0%} of the picture: {cause}; {cure}.",
    "no-zone": "{name} shows no place where a mark of the standard could be seen: {cause}. {Cure}.",
    "blurred": "{name} is too blurred: its lines are several times wider than marks in focus. Tap to focus "
    "on the paint beside the lamp's reflection, hold still, and retake it.",
    "no-panel": "{name} does not look like paint under a lamp: its bright lines run in every direction, "
    "where lit marks run round the light. Photograph a painted panel.",
}

# why too little of a picture can be counted, and what to do
CAUSES = {
    "bright": (
        "the paint is too bright there",
        "expose less, or hold the lamp farther from the camera's mirror direction",
    ),
    "far": ("it was taken from too far away", "go nearer, until a millimetre spans 10 pixels or more"),
    "dark": (
        "the paint is too dark there",
        "expose until the lamp's reflection is just white, or use a stronger lamp",
    ),
    "noisy": ("the picture is too noisy", "use a lower ISO and hold still, or bring more light"),
    "sparkle": (
        "the paint sparkles too much there",
        "hold the camera steady and nearer, or film the spot while the lamp moves",
    ),
}


def told(remark: Remark) -> str:
    """The sentence of a remark about a photograph; a cause is put in words on the way."""
    values = dict(remark.values)
    if "cause" in values:
        cause, cure = CAUSES[str(values["cause"])]
        values |= {"cause": cause, "cure": cure, "Cure": cure[0].upper() + cure[1:]}
    return sentence(Remark(code=remark.code, values=values), WARNINGS)
