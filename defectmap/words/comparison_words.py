"""What a comparison says: the sentence of each code of `defectmap.comparison`."""

from __future__ import annotations

from defectmap.words.film_words import FILM_REASONS
from defectmap.words.remark import Table, Wording

REASONS: Table = {
    "same file": "Before and after are the same file; give the photograph taken after the work.",
    "nothing moved": (
        "Nothing has changed or moved: the finest detail agrees to {match:.2f} (two shots by hand stay "
        "below {limit:g}). With a camera on a stand that means no change; else it is a copy with other "
        "notes."
    ),
    "saved twice": (
        "Before and after look like one picture saved twice: their finest detail agrees to {match:.2f} "
        "(two shots by hand stay below {limit:g}); give the photograph taken after the work."
    ),
    "one picture for two spots": (
        "Spots {first} and {second} are one photograph {side}, saved again; give a photograph of each spot."
    ),
    "spots of two paints": (
        "Spots {first} and {second} look like two paints {side}; if one of them is another panel, set it "
        "aside or move it there."
    ),
    "marks do not fit": (
        "The marks do not lie on each other (their best fit is {sureness:.1f} times the next best; "
        "marks of one place reach {limit:g}) though each photograph shows {pieces:.0f} or more: it is "
        "another panel or another place, or every mark is new; photograph the same spot again."
    ),
    "texture does not fit": (
        "Neither marks nor orange peel lie on each other (the best fit is {sureness:.1f} times the "
        "next best; one place reaches {limit:g}) though both photographs show the paint's texture: it "
        "is another panel or another place; photograph the same spot again."
    ),
    "place not confirmed": (
        "Too few marks and too little texture are left to confirm the place (the best fit is "
        "{sureness:.1f} times the next best; {limit:g} is needed); the hotspots were laid on each "
        "other, so make sure that both photographs show the same spot."
    ),
    "little overlap": (
        "Only {share:.0f} % of the smaller zone is in both photographs (at least {limit:.0f} % is "
        "wanted); aim camera and lamp at the same place."
    ),
    "small common area": (
        "The photographs share only {area:.1f} cm² (at least {limit:g} is wanted); step back or aim "
        "the lamp again."
    ),
    "one scale only": ("Only the {side} photograph has a scale; give one for both, or lay the card in both."),
    "no scale": "No scale is known, so both were taken to be shot from one distance; give a scale.",
    "pixels per mm": (
        "The after photograph has {ratio:.2f} times the pixels for a millimetre (limit {limit:.2f} "
        "either way), so finer marks show in one of them; keep the distance."
    ),
    "scales disagree": (
        "The paint says that the two scales are {error:.1f} % off each other (limit {limit:.1f} %); "
        "figures after were corrected for it: give each photograph its own scale, or lay the card in "
        "both."
    ),
    "lights differ": (
        "The reflection has {before:.0f} light source(s) before and {after:.0f} after: it is another "
        "lamp; use the same one."
    ),
    "melted lights": (
        "The hotspot's outline has {count:.0f} even bulges in the {side} photograph, of {height:.0f} % "
        "of its radius (limit {limit:.1f} %), and none in the other: several lights that melt together "
        "in one, a single lamp in the other; use the same lamp."
    ),
    "halo shape": (
        "The halo falls off in another way ({found:.2f} stops, limit {limit:g}): another lamp, another "
        "distance or a second light; use the same lamp in the same place."
    ),
    "hotspot width": (
        "One hotspot is {ratio:.2f} times as wide as the other photograph's halo leads to expect "
        "(limit {limit:.2f} either way): another lamp or distance; use the same lamp in the same place."
    ),
    "halo shape and haze": (
        "The halo falls off in another way ({found:.2f} stops, limit {limit:g}): another lamp, another "
        "distance or a second light; use the same lamp in the same place. Haze went from "
        "{haze_before:.2f} to {haze_after:.2f}, which changes the halo by itself."
    ),
    "hotspot width and haze": (
        "One hotspot is {ratio:.2f} times as wide as the other photograph's halo leads to expect "
        "(limit {limit:.2f} either way): another lamp or distance; use the same lamp in the same "
        "place. Haze went from {haze_before:.2f} to {haze_after:.2f}, which changes the halo by itself."
    ),
    "light unexplained": (
        "The halo is {stops:.1f} stops {word} after than the camera's settings explain (limit "
        "{limit:g}): another lamp, another brightness or another distance; set the lamp up as before."
    ),
    "exposure": (
        "The halo is {stops:.1f} stops {word} after than before (limit {limit:g}), which changes how "
        "many marks show; lock the exposure."
    ),
    "paint colour": (
        "The paint has another colour ({tint:.1f} stops between red, green and blue, limit {limit:g}): "
        "another car or panel, or another white balance."
    ),
    "paint brightness": (
        "Beside the halo the paint is {stops:.1f} stops {word} at the same exposure (limit {limit:g}): "
        "another paint, or other light in the room."
    ),
    "focus": (
        "The same marks are {ratio:.2f} times as wide in the {side} photograph, so {lost:.0f} % of "
        "their light is not read there (limit {limit:.0f} %): it is out of focus or shaken; focus on "
        "the paint and hold still."
    ),
    "detection limit": (
        "The {side} photograph shows marks from {found:.0f} µm of equivalent width in half of its zone "
        "(limit {limit:.0f} µm), so it may miss standard marks: go nearer, or give more light."
    ),
    "lines not round the lamp": (
        "Only {share:.0f} % of the lines in the {side} photograph run round the lamp (at least "
        "{limit:.0f} % are wanted), as lit marks do: it shows something else, or the light comes from "
        "elsewhere; photograph bare paint under one lamp."
    ),
    "warned of second-lamp": (
        "A second light is reflected in the {side} photograph, and what it lights is counted with the "
        "lamp's marks; switch it off or shade it, and retake that photograph."
    ),
    "warned of lines-not-round-the-lamp": (
        "Many bright lines of the {side} photograph do not run round the lamp as lit marks do; they may be "
        "texture or reflections."
    ),
    "warned of underexposed": (
        "The {side} photograph is underexposed, so faint marks are missing from it; expose until the lamp's "
        "reflection is just white."
    ),
    "warned of soft": (
        "The {side} photograph is slightly out of focus or shaken, so the finest marks are missing from it; "
        "focus on the paint and hold still."
    ),
    "warned of small-zone": (
        "Marks can be counted on only a small part of the {side} photograph; its own warning says why."
    ),
    "warned of shadows-lifted": (
        "By their grain, dark parts of the {side} photograph were lifted (HDR, tone mapping): marks there "
        "may look stronger than they are; switch it off."
    ),
    "warned of iso-contradicted": (
        "The {side} photograph is far smoother than the ISO that its file tells, so faint marks may be gone "
        "from it; use the camera's own file."
    ),
    "order": ("By the camera's clock after ({after}) is older than before ({before}): are they swapped?"),
    "one merged": ("Only the {side} photograph was merged from several exposures (HDR); switch that off."),
    "both merged": ("Both photographs were merged from several exposures (HDR), which changes contrast."),
    "sharpened": (
        "The {side} photograph was sharpened more than the other: lines stand out more in it; the "
        "interval is wider for it. Switch sharpening off, or use one camera at one setting for both."
    ),
    "smoothed": (
        "The {side} photograph was smoothed (noise reduction or strong compression): faint marks in it "
        "are gone, so they are not compared, and the interval is wider. Send the camera's own file."
    ),
    "grain differs": (
        "At the same light the grain of the two photographs differs by a factor of {ratio:.2f} (limit "
        "{limit:.2f}), more than the camera's settings explain: the {side} one was smoothed, or the other "
        "sharpened or tone mapped. Use one camera at one setting, its processing switched off."
    ),
    "smaller copy": (
        "The {side} photograph is a smaller copy without the camera's notes, as messengers make them; "
        "use the camera's own file for both."
    ),
    "tone curve": (
        "The {side} photograph has a flatter tone curve than the other (HDR or a filter), which bends "
        "how strong marks look; the interval is wider for it. Switch it off."
    ),
    "cameras differ": "The cameras differ ({before} and {after}); use one for both.",
    "filled after": (
        "The change is that of visible marks: a filler or glaze is on the paint, which hides marks "
        "without removing them; compare after a solvent wipe."
    ),
    **FILM_REASONS,
    "follow up after": (
        "The change is what time and care made of it: protection may be on the paint, and new marks came "
        "after hand-over."
    ),
    "protected after": (
        "The change is that of visible marks: protection is on the paint, and some of it hides marks "
        "without removing them; compare after a solvent wipe."
    ),
}

CHANGES: Table = {
    "film no change": "Of films, no change of this figure is given: how far it repeats is not known.",
    "clean before": "Nothing above the detection limit before, so there is no percentage.",
    "marks from nothing": (
        "Nothing above the detection limit before, marks after: worse, but no percentage from nothing."
    ),
    "no bounds": "The before figure cannot be told from zero, so the change has no bounds.",
    "no change": "Not distinguishable from no change.",
    "more marks": "Worse: more marks show after than before.",
    "higher": "Higher than before.",
    "nothing after": ("Nothing above the detection limit after; too few marks before to prove a reduction."),
    "nothing after at every spot": (
        "Nothing above the detection limit after at every spot; too few marks before to prove a reduction."
    ),
    "at least": "At least {percent:.0f} % fewer: nothing above the detection limit after.",
    "at least at every spot": (
        "At least {percent:.0f} % fewer at every spot: nothing above the detection limit after."
    ),
    "no scratch left": "No scratch of {limit:g} mm or more is left.",
    "not comparable": "Not comparable.",
}

WARNINGS: Table = {
    "scatter assumed": Wording(
        says="How well a photograph repeats with this set-up is assumed, not measured.",
        page="Photograph one spot five times, and measure the repeatability on the page Set-up.",
        terminal="Photograph one spot five times and run `defectmap repeat`.",
    ),
    "few spots": (
        "Fewer than three spots: the interval speaks of what was photographed, not of the whole panel."
    ),
    "film directions": (
        "Films: marks count where both sweeps could show their direction, {share:.0f} % of all places "
        "and directions; not to be held against figures of single photographs."
    ),
    "films count": (
        "Only the filmed spots count here; marks of a single photograph are another density, so these were "
        "left out: spot {spots}."
    ),
    "photographs count": ("Filmed one time and photographed the other, and so left out: spot {spots}."),
    "uncalibrated": "Uncalibrated: lengths are in px and densities are relative; give a scale.",
    "another camera": "The set-up '{setup}' was made with {known}, this is {found}.",
    "another hotspot": Wording(
        says="The hotspot is {ratio:.2f} times as wide as in the set-up '{setup}'.",
        page="Measure the repeatability again on the page Set-up, with this lamp and exposure.",
        terminal="Run `defectmap repeat` again with this lamp and exposure.",
    ),
    "few shots": ("{shots:.0f} shots know the scatter only to {doubt:.0f} %; {good:.0f} or more are better."),
    "place of shots": "The place could not be confirmed for {names}: is it the same spot?",
    "file twice": "A file was given twice; a copy has no scatter, so the figures are too good.",
}

CROPS: Table = {
    "one exposure": (
        "Same piece of panel, same size, one exposure (light times {gain:.1f}) and one tone curve for both."
    ),
    "laid by hotspots": (
        "Same piece of panel, same size, one exposure (light times {gain:.1f}) and one tone curve for "
        "both. Laid on each other by the hotspots only."
    ),
}
