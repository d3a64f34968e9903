"""What a person should know of a film before believing its figures."""

from __future__ import annotations

import numpy as np

from defectmap.film import tuning
from defectmap.panel.measurement import FilmFacts, Scale
from defectmap.words.remark import Remark


def film_cautions(facts: FilmFacts, scale: Scale) -> tuple[Remark, ...]:
    """What is to be said beside a film's figures."""
    found = [Remark(code="film-directions", values={"share": facts.directions_share})]
    if facts.directions_share < tuning.FEW_DIRECTIONS:
        found.append(Remark(code="film-sweep-more"))
    if facts.frames < tuning.BROKEN_OFF_SHARE * facts.said_frames:
        values = {"frames": facts.frames, "said": facts.said_frames}
        found.append(Remark(code="film-breaks-off", values=values))
    unfit = facts.left_out.get("does not fit", 0)
    if unfit:
        found.append(Remark(code="film-unfit", values={"frames": unfit}))
    if facts.used[0] != 0 and np.array_equal(facts.to_first[0], np.eye(3)):  # the map is another frame
        found.append(Remark(code="film-other-map", values={"frame": int(facts.used[0])}))
    elif np.median(facts.sure_px) > tuning.SAID_PX:
        found.append(Remark(code="film-first-unsure", values={"px": float(np.median(facts.sure_px))}))
    if not scale.calibrated:
        found.append(Remark(code="scale-unknown"))
    return tuple(found)
