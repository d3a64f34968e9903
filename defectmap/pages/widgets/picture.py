"""The photograph with its marks under a finger: choose one by touching it, draw an area, come closer.

Mouse and keyboard do the same: plus and minus come closer, arrow keys move, "Next mark" goes from mark
to mark; with "Leave an area out" pressed arrow keys move a box, with Shift they stretch it, Enter keeps it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from defectmap.pages.browser import component, keeper, taken_up
from defectmap.pages.images import data_uri
from defectmap.words.mark_words import ONE

Box = tuple[float, float, float, float]
MOST_POINTS = 24  # of one line, as the finger needs them


@dataclass(frozen=True, slots=True, kw_only=True)
class Touchable:
    """A mark that can be chosen; points are (x, y) in px of the photograph."""

    index: int
    kind: str
    words: str
    points: Sequence[Sequence[float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """What is shown."""

    photograph: str  # its identity: another one is seen whole again
    state: str  # changes with what was corrected
    jpeg: bytes
    width_px: int
    height_px: int
    alt: str
    marks: Sequence[Touchable]
    faint: Sequence[Sequence[Sequence[float]]] = ()
    said: str = ""
    can_undo: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What somebody did to the picture."""

    what: Literal["kind", "area", "undo"]
    photograph: str
    number: str
    mark: int = -1
    kind: str = ""
    box: Box = (0.0, 0.0, 0.0, 0.0)


WORDS = {
    "hint": "Touch a mark to correct it.",
    "draw_hint": "Draw over what is not to count.",
    "label": "Photograph with its marks",
    "next_words": "Next mark",
    "area_words": "Leave an area out",
    "undo_words": "Undo",
    "keeping": "Counting again …",
}


def picture(shown: Picture, *, key: str) -> tuple[Act | None, bool]:
    """Draw it; what was done since it was last asked, and whether somebody has come so close as to see more.

    Parameters
    ----------
    key : str
        Of the widget.
    """
    found = component("picture")(
        data={
            **WORDS,
            "photograph": shown.photograph,
            "state": shown.state,
            "jpeg": data_uri(shown.jpeg),
            "width": shown.width_px,
            "height": shown.height_px,
            "alt": shown.alt,
            "said": shown.said,
            "can_undo": shown.can_undo,
            "kinds": [[kind, words.capitalize()] for kind, words in ONE.items()],
            "marks": [
                {"index": m.index, "kind": m.kind, "words": m.words, "points": thinned(m.points)}
                for m in shown.marks
            ],
            "faint": [thinned(points) for points in shown.faint],
        },
        key=key,
        on_act_change=keeper(key, "act"),
        on_sharper_change=lambda: None,
    )
    return act_from(taken_up(key, "act")), bool(found.get("sharper"))


def thinned(points: Sequence[Sequence[float]]) -> list[list[float]]:
    """A line with as many points as a finger needs, its ends among them.

    Examples
    --------
    >>> len(thinned([[0.0, float(i)] for i in range(100)]))
    24
    """
    last, most = len(points) - 1, min(len(points), MOST_POINTS)
    keep = sorted({round(at * last / max(1, most - 1)) for at in range(most)})
    return [[round(float(v), 1) for v in points[at]] for at in keep]


def act_from(given: object) -> Act | None:
    """What a browser says was done, checked; None where it makes no sense.

    Examples
    --------
    >>> act_from({"what": "area", "photograph": "p", "number": "1", "box": [9, 2, 3, 4]}) is None
    True
    """
    if not isinstance(given, Mapping):
        return None
    what, photograph, number = (given.get(name) for name in ("what", "photograph", "number"))
    if not isinstance(photograph, str) or not isinstance(number, str):
        return None
    if what == "undo":
        return Act(what="undo", photograph=photograph, number=number)
    if what == "kind":
        return _kind(given, photograph, number)
    return _area(given, photograph, number) if what == "area" else None


def _kind(given: Mapping[Any, Any], photograph: str, number: str) -> Act | None:
    mark, kind = given.get("mark"), given.get("kind")
    if not isinstance(mark, int) or mark < 0 or kind not in ONE:
        return None
    return Act(what="kind", photograph=photograph, number=number, mark=mark, kind=str(kind))


def _area(given: Mapping[Any, Any], photograph: str, number: str) -> Act | None:
    box = given.get("box")
    if not isinstance(box, list) or len(box) != 4 or not all(isinstance(v, int | float) for v in box):
        return None
    left, top, right, bottom = (float(v) for v in box)
    if not (left < right and top < bottom):
        return None
    return Act(what="area", photograph=photograph, number=number, box=(left, top, right, bottom))
