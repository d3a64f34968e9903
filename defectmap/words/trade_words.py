"""The sentences of the trade rules: advice, thickness, budget, cautions; the codes are those of `trade`.

Cautions name the usual dangers and defer to product labels, safety data sheets and local rules.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from defectmap.words.figure_words import AIMS, FOUND
from defectmap.words.remark import Audience, Remark, Wording, sentence
from defectmap.words.writer import ENGLISH, Writer

FILM: Mapping[str, str | Wording] = {
    "unexplained low reading": Wording(
        says="{place}: {value:film} is low and nothing explains it, so polishing stops here.",
        page="Read exactly there again, {needed} times, or say what explains it (an edge, a repair).",
        terminal="Read exactly there again, {needed} times (`job readings … --again`), or say what "
        "explains it (`job explain … --why edge`).",
    ),
    "low reading not repeated": "{place}: {value:film} did not repeat in two further readings at that "
    "point. It stays in the record; go carefully there.",
    "low reading explained": "{place}: {value:film} is explained (edge or repair). Keep the machine off it.",
    "paint cannot grow": "{place}: {newer:film} now, {older:film} before, and paint does not grow. "
    "Another point, or new paint? Until that is known the lower reading counts.",
    "high reading": "{place}: {value:film} stands above the rest: filler or new paint under it, or dirt "
    "under the probe.",
    "too few readings": "{place}: {readings} usable so far; {needed} readings make a measured place.",
    "too thin": "{lowest_um:film} is below {thin_um:film}: too thin for any machine.",
    "thinner than usual": "{lowest_um:film} is below the usual {usual_um:film}: polished before, or thin "
    "from new.",
    "probably repainted": "{highest_um:film} is above the {limit_um:film} of factory paint: probably "
    "repainted. Its clear coat may be softer, thicker or thinner than assumed.",
    "probably filled": "{highest_um:film} is above {limit_um:film}: filler under the paint is likely.",
    "thicker than the rest": "{mean_um:film} against {usual_um:film} on the median panel: probably "
    "repainted or filled. Its clear coat may be softer, thicker or thinner than assumed.",
    "no gauge reads it": "A usual gauge reads nothing on {material}, so what the clear coat allows is "
    "assumed, and less of it than on metal.",
    "not measured": "No film thickness is measured: take at least three readings at each of several places.",
    "spent before": "Earlier jobs took {low:g film number} to {high:g film} off this paint. That counts.",
    "clear coat entered": "The clear coat was entered as {entered:g film}, good to {doubt:.1f film}.",
    "clear coat assumed": "A gauge shows the whole film, not the clear coat. The clear coat is assumed to be "
    "{low:g film number} to {high:g film} (common practice, no source); the low end is used.",
    "clear coat in proportion": "A gauge shows the whole film, not the clear coat. The clear coat is "
    "assumed to be {low:g film number} to {high:g film} (common practice, no source). This film is below "
    "{usual:film}, so {taken:film} is taken.",
    "removed": "{place}: {removed:film} came off by the gauge, give or take {doubt:film number}; the steps "
    "were expected to take {low:g film number} to {high:g film}.",
    "removed, not told apart": "{place}: {removed:film} came off by the gauge, give or take "
    "{doubt:film number}, so it cannot be told from nothing; the steps were expected to take "
    "{low:g film number} to {high:g film}.",
    "does not fit": "{step}, {sets} set(s), may take {high:g film}, and {left:.1f film} is left.",
    "nothing can be planned": "The film thickness is not measured, so nothing can be planned: take readings.",
}

SURFACE: Mapping[str, str | Wording] = {
    "never polished": "{paint}: no abrasive polishing at all, by hand or machine. It would shine where it "
    "was touched, for good. Wash it, and follow the maker's data for stains.",
    "fresh paint": "Painted on {painted_on}: new paint hardens for up to {days:g} days, until about "
    "{hard_on}. Ask the painter before anything is polished, clayed or sealed.",
    "paint unknown": Wording(
        says="Nobody has said what this paint is, and that decides what may be done. Look at an edge and "
        "ask the owner; colour on a white cloth after a light hand polish in a hidden place means single "
        "stage.",
        page="Then choose the paint.",
        terminal="Then enter it: `job change … --paint` or `job panel … --paint`.",
    ),
    "on single stage": "Single-stage paint has no clear coat: the colour itself comes off, and shows on "
    "the pad.",
    "on plastic": "Plastic is soft, flexes and holds the heat: gentle steps, no rotary, low speed, short "
    "sets.",
    "on composite": "Composite and gelcoat hold the heat: gentle steps, no rotary, short sets.",
    "on repaint": "Repainted: it may be softer, thicker or thinner than factory paint. Gentle steps, no "
    "rotary.",
    "on matt": "Matt paint shines where it is rubbed: no clay, no polish, no wax.",
    "on satin": "Satin paint shines where it is rubbed: no clay, no polish, no wax.",
    "on film": "Protective film: no abrasives, no solvent that its maker does not name, off the edges.",
    "on wrap": "Wrap: no abrasives, no solvent that its maker does not name, off the edges.",
}

STEPS: Mapping[str, str | Wording] = {
    "nothing measured": "Nothing is measured on this panel after decontamination: wash, decontaminate, "
    "photograph, measure.",
    "corrected, not wiped": "The panel is corrected; oils hide marks. Wipe it with solvent, let it dry, "
    "photograph it, measure.",
    "proof too old": Wording(
        says="There are photographs of the wiped paint, but by the camera's clock they are older than the "
        "last correction.",
        terminal="If that is not so, enter the correction and the wipe with their time (`--at`).",
        page="If that is not so, the camera's clock is wrong, or the step was entered after the photographs.",
    ),
    "no scale": "These photographs have no scale, so their figures cannot be held against what is aimed at.",
    "protected": "Protection is on: polishing now takes it off again. What is left stays, unless it is "
    "agreed to take protection off and start anew.",
    "clear coat not measured": "Correction takes clear coat that does not grow back, and how much there is "
    "was not measured.",
    "low reading stops": "A low reading on this panel is not explained: read there again before any machine.",
    "above": "The panel is above {aim}: {found}.",
    "of that trails": "Of that, {trail:.3g density} are buffer trails; finishing down clears those.",
    "settled elsewhere": "{step} was settled on {panel}, which has the same paint and is in the same "
    "condition: {found}. One test spot is enough for both.",
    "done before": "Done before on such paint: {steps}, {panels}, {change:+.0f} % of marks (median, "
    "{low:+.0f} to {high:+.0f} %), {taken_low:g film number} to {taken_high:g film}.",
    "done before, timed": "Done before on such paint: {steps}, {panels}, {change:+.0f} % of marks "
    "(median, {low:+.0f} to {high:+.0f} %), {minutes:.0f} minutes a panel, {taken_low:g film number} to "
    "{taken_high:g film}.",
    "done, not enough": "{step}: done on the whole panel, not enough.",
    "gentlest untried": "{step} is the gentlest step not yet tried on this panel.",
    "tried, not wiped": "{step} was tried on a spot, and that spot is not yet wiped, photographed and "
    "measured.",
    "tried, not settled": "{step} was tried, and its photographs do not settle whether it is enough.",
    "trial reached": "{step} reached it on the test spot: {found}.",
    "trial may have reached": "{step} may have reached it on the test spot: {found}.",
    "trial reached but trails": "{step} reached it on the test spot: {found}, but for buffer trails, which "
    "finishing down clears.",
    "trial may have reached but trails": "{step} may have reached it on the test spot: {found}, but for "
    "buffer trails, which finishing down clears.",
    "trial not enough": "{step} did not reach it on the test spot: {found}.",
    "no stronger step": "There is no stronger step that may be used here.",
    "does not fit with finishing": "It may take {taken:g film} with finishing down, and {left:.1f film} may "
    "come off ({source}).",
    "step does not fit": "It may take {taken:g film}, and {left:.1f film} may come off ({source}).",
    "takes of what is left": "It may take up to {taken:g film} of the {left:.1f film} that are left "
    "({source}).",
    "undecided density": "Density of marks is {found}, against at most {limit:g density number}.",
    "undecided longest scratch": "The longest scratch is {found}, against at most {limit:g length number}.",
    "one photograph alone": "One photograph alone cannot show whether that is within {aim}.",
    "range reaches across": "The range reaches across {aim}.",
    "film above": "The films show more than {aim} allows: {found}. That was meant for one photograph, and a "
    "film shows marks of all lamp places, several times as many.",
    "photograph beside film": "Photograph the spots under one lamp place as well, before and after: that "
    "decides.",
    "films and photographs apart": "It was filmed at one stage and photographed at the other: only the "
    "photographs count here. Take the missing ones.",
    "photograph more": "Photograph more spots (at least three), or measure the repeatability of your "
    "set-up once.",
    "within": "The marks are within {aim}: {found}.",
    "within but for trails": "Apart from buffer trails, the marks are within {aim}: {found}.",
    "trails first": "Buffer trails come first: apart from them the marks are at {found}, but some of their "
    "lines pass for swirl marks. Photographs after finishing down settle whether the rest is within {aim}.",
    "haze first": "Haze comes first: the marks are at {found}, and photographs after finishing down settle "
    "whether that is within {aim}.",
    "step leaves haze": "{step} leaves haze: finish down after it.",
    "haze above": "Haze is above {aim}: finishing down clears it.",
    "haze rose": "Haze rose from {before:.3g} to {after:.3g} since the first inspection: finishing down "
    "clears it.",
    "trails above": "Buffer trails are above {aim}: {found} against at most {limit:g density number}. "
    "Finishing down clears them; a heavier step leaves more.",
    "trails seem above": "Buffer trails seem to be above {aim}: {found} against at most "
    "{limit:g density number}. Finishing down clears them; a heavier step leaves more.",
    "finishing takes clear coat too": "Finishing down takes clear coat too, and how much there is was not "
    "measured.",
    "finishing done, not enough": "Finishing down was done once and was not enough.",
    "worse density": "Worse than before: density of marks rose from {before:.3g density number} to "
    "{after:.3g density} ({percent:+.0f} %). Stop here.",
    "worse haze": "Worse than before: haze rose from {before:.3g} to {after:.3g}. Stop here.",
    "no harder step after worse": "A harder step would make it worse. Find the cause first, then try the "
    "same or a gentler step on a fresh spot.",
    "worse on a test spot": "That is the test spot of {step}.",
    "cause dirty pad": "Pad: clean, fresh, free of dried polish and grit?",
    "cause wrong pad": "Pad: too firm for this paint, or worn out?",
    "cause dirty cloth": "Cloth: clean, soft, not dropped, not used on a sill or wheel?",
    "cause unsuitable product": "Product: right one for pad and paint, shaken, not dried up?",
    "cause soft paint": "Paint: very soft, so that wiping alone marks it?",
    "cause dust": "Dust: panel clean, seals and gaps blown out, nothing falling from above?",
    "cause other place": "Photographs: same place, same lamp, wiped and dry both times?",
    "out of reach density": "At most {limit:.3g density} cannot be reached: a photograph cannot show less "
    "than about {least:.3g density number}. Agree on something that can be.",
    "out of reach haze": "Haze of at most {limit:g} cannot be reached: no lamp shows less than about "
    "{least:g}. Agree on something that can be.",
    "reachable unknown": "This record has no finished panel of such paint yet, so it cannot say what is "
    "reachable.",
    "reachable density": "Reached before on such paint: {density:.2g density} at best, over {panels}.",
    "reachable haze": "Reached before on such paint: haze {haze:.2g} at best, over {panels}.",
    "reached before": "On such paint this shop's best was {density:.2g density}, over {panels}.",
    "measured density": "density of marks {found}",
    "measured on films": "counted on films, {share:.0f} % of all directions",
    "measured haze": "haze {found}",
    "measured trails": "buffer trails {found}",
    "measured scratch": "longest scratch {length:.0f length}",
    "measured scratch, no scale": "longest scratch {length:.0f} px",
    "catches nail": "A scratch that a fingernail catches is too deep to polish out safely: it is left, "
    "softened at most, or referred to a refinisher. It is not chased.",
}

DAMAGE: Mapping[str, str | Wording] = {
    "stays, as said": "{why}",
    "stays chip": "A chip goes through the colour: polishing does not fill it. Touching up is a "
    "refinisher's work.",
    "stays dent": "A dent is in the metal: polishing does not move it.",
    "stays deep scratch": "A scratch that catches the nail is deeper than may be polished: it stays, or is "
    "referred.",
    "stays crack": "A crack goes through the paint: heat and pressure make it longer. Keep the machine off "
    "it.",
}

ALTERNATIVES: Mapping[str, str | Wording] = {
    "leave it": "Leave the remaining marks as they are, and say so in the report.",
    "mask it": "Mask them with a filler or glaze, and call it masking: it hides marks for a while and "
    "removes nothing.",
    "refer it": "Refer the panel to a licensed refinisher.",
}

CAUTIONS: Mapping[str, str | Wording] = {
    "caution edges": "Edges and body lines have the thinnest paint: tape them or stay off.",
    "caution heat": "Keep the pad moving and the panel cool to the touch; a rotary heats faster than a "
    "random orbital.",
    "caution other paints": "Plastic, repaints and single-stage paint behave differently: try first; "
    "colour on the pad of single-stage paint is the paint itself.",
    "caution body": "Wear eye protection, gloves and a dust mask, hearing protection with loud machines; "
    "keep the cable and clothing clear of the pad.",
    "caution wipe": "Solvent wipes are flammable: ventilate, no flames or sparks, used cloths into a "
    "closed metal bin.",
    "caution lamp": "Never look into the inspection lamp or its reflection at close range.",
    "caution labels": "Product labels, safety data sheets and local rules come before anything said here.",
    "caution clay": "Clay mars: plenty of lubricant, light hand, fold it often, drop it and it is rubbish. "
    "Expect to polish afterwards; on soft paint try one place first.",
    "caution remover": "Iron and tar removers: cool paint in the shade, gloves and eye protection, fresh "
    "air, off bare metal and hot brakes, rinse before they dry. The label decides.",
    "months passed": "{months:g} months since the last decontamination is longer than {usual:g}: feel every "
    "panel through a thin bag. What feels smooth is left alone.",
    "label decides": "The product's label decides the times; those here are {source}.",
    "coating air": "Coatings hold solvents: fresh air, gloves, eye protection; follow the safety data sheet.",
}

TIMES: Mapping[str, str | Wording] = {
    "three times": "Protection ({kind}): level or wipe off after {low:g} to {high:g} minutes, keep dry for "
    "{hours:g} hours, no washing for {days:g} days ({source}).",
    "two times": "Protection ({kind}): keep it dry for {hours:g} hours and do not wash it for {days:g} days. "
    "The label of the product comes first ({source}).",
    "label unknown": "How long it has to stay dry and unwashed stands on the label of the product.",
    "wash by hand": "Wash by hand with plenty of water, two buckets and a soft mitt; no brushes, no dry "
    "wiping.",
}

CARE: Mapping[str, str] = {  # what is due, by kind of care date
    "wash again": "first wash allowed",
    "look": "look at the protection",
    "follow-up": "follow-up: photograph against hand-over",
    "renew from": "protection may wear out from now on",
    "renew by": "renew the protection by now",
    "other": "care",
}

SENTENCES: Mapping[str, str | Wording] = {
    **FOUND,
    **AIMS,
    **FILM,
    **SURFACE,
    **STEPS,
    **DAMAGE,
    **ALTERNATIVES,
    **CAUTIONS,
    **TIMES,
}


def told(remark: Remark, *, audience: Audience = "terminal", writer: Writer = ENGLISH) -> str:
    """The sentence of a remark of the trade rules.

    Examples
    --------
    >>> told(Remark(code="too thin", values={"lowest_um": 71.0, "thin_um": 80.0}))
    '71 µm is below 80 µm: too thin for any machine.'
    """
    return sentence(remark, SENTENCES, audience=audience, writer=writer)


def told_all(
    remarks: Iterable[Remark], *, audience: Audience = "terminal", writer: Writer = ENGLISH
) -> tuple[str, ...]:
    """The sentences of several remarks, each once."""
    return tuple(dict.fromkeys(told(one, audience=audience, writer=writer) for one in remarks))
