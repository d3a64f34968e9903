"""What a person should know of a film before believing its figures."""

from __future__ import annotations

import numpy as np

from defectmap.film import tuning
from defectmap.panel.measurement import FilmFacts, Scale


def film_cautions(facts: FilmFacts, scale: Scale) -> tuple[str, ...]:
    """Sentences to show beside a film's figures.

    Parameters
    ----------
    facts : FilmFacts
    scale : Scale
    """
    found = [
        f"Of all directions of groove, this sweep could show {facts.directions_share:.0%}; its density "
        "counts marks of every lamp place and is not to be held against that of a single photograph."
    ]
    if facts.directions_share < tuning.FEW_DIRECTIONS:
        found.append(
            "Sweep the lamp over the whole picture and a little beyond, to and fro, to show more of them."
        )
    if facts.frames < tuning.BROKEN_OFF_SHARE * facts.said_frames:
        found.append(
            f"The film breaks off after {facts.frames} of {facts.said_frames} frames; what was there is "
            "measured."
        )
    unfit = facts.left_out.get("does not fit", 0)
    if unfit:
        found.append(f"{unfit} frames do not lie on the others and are left out.")
    if facts.used[0] != 0 and np.array_equal(facts.to_first[0], np.eye(3)):  # the map is another frame
        found.append(
            f"The first frame could not be used; points are in pixels of frame {facts.used[0]}, counted "
            "from 0."
        )
    if not scale.calibrated:
        found.append("No scale is known: lengths are in pixels, densities relative.")
    return tuple(found)
