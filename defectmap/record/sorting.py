"""From the name of a photograph, and of the folders it lies in, to its panel, stage and spot."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

STAGE_WORDS: Mapping[str, tuple[str, ...]] = {
    "as received": ("as received", "received", "arrival"),
    "washed": ("washed",),
    "decontaminated": ("decontaminated", "clayed"),
    "test spot": ("test spot", "testspot"),
    "corrected": ("corrected", "polished"),
    "wiped": ("wiped",),
    "filled": ("filled", "glazed"),
    "protected": ("protected", "waxed", "sealed", "coated"),
    "follow up": ("follow up", "followup"),
}
_SPOT = re.compile(r"(?:^|[^a-z])spot[ _-]*([0-9]+|[a-z](?![a-z]))")


@dataclass(frozen=True, slots=True, kw_only=True)
class Guess:
    """What a name says; None where it says nothing, or more than one thing."""

    panel: str | None
    stage: str | None
    spot: str | None


def guess_place(parts: Sequence[str], panels: Mapping[str, Iterable[str]]) -> Guess:
    """Read panel, stage and spot from names.

    Words may stand in any order and be joined by anything; "before" and "after" say nothing, as a before
    may be dirty and an after unwiped.

    Parameters
    ----------
    parts : sequence of str
        The file's name without its ending, and the names of its folders.
    panels : mapping
        Each panel's name to other words for it.

    Examples
    --------
    >>> guess_place(["wiped", "front_door-LEFT spot2"], {"left front door": (), "left front wing": ()})
    Guess(panel='left front door', stage='wiped', spot='2')
    """
    text = " ".join(parts).lower()
    words = set(re.findall(r"[^\W_]+", re.sub(r"(?<=[a-z])(?=[0-9])", " ", text)))
    spot = _SPOT.search(" ".join(re.sub(r"[^a-z0-9]+", " ", part.lower()) for part in parts))
    return Guess(
        panel=_best({name: (name, *also) for name, also in panels.items()}, words),
        stage=_best(STAGE_WORDS, words),
        spot=spot[1] if spot else None,
    )


def _best(names: Mapping[str, Iterable[str]], words: set[str]) -> str | None:
    """The name most of whose words are there, all of them; none where two different ones would do."""
    found: dict[str, set[str]] = {}
    for name, spellings in names.items():
        for spelling in spellings:
            needed = set(re.findall(r"[^\W_]+", spelling.lower()))
            if needed and needed <= words and len(needed) > len(found.get(name, ())):
                found[name] = needed
    if not found:
        return None
    best = max(found, key=lambda name: len(found[name]))
    # "front bumper" beside "left front door" in one name: two places, so neither.
    rivals = [name for name in found if name != best and not found[name] < found[best]]
    return None if rivals else best
