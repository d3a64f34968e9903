"""Films and photographs are never held against each other: which spots count, and what is said of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, get_args

from defectmap.words.remark import Remark

KindOfSpot = Literal["films", "photographs", "mixed"]  # in the order in which they count
FILM_DIRECTIONS = "film directions"  # code of what every comparison of films says
LEFT_OUT = ("films count", "photographs count")


def spots_by_kind(filmed: Mapping[str, tuple[bool, bool]]) -> dict[KindOfSpot, list[str]]:
    """Spots that were filmed both times, photographed both times, and one of each.

    Parameters
    ----------
    filmed : mapping
        Each spot's name to whether it was filmed before, and after.

    Examples
    --------
    >>> spots_by_kind({"1": (True, True), "2": (False, False), "3": (True, False)})
    {'films': ['1'], 'photographs': ['2'], 'mixed': ['3']}
    """
    found: dict[KindOfSpot, list[str]] = {kind: [] for kind in get_args(KindOfSpot)}
    for spot, (before, after) in filmed.items():
        found["mixed" if before is not after else "films" if before else "photographs"].append(spot)
    return found


def left_out_remark(counting: KindOfSpot, spots: tuple[str, ...]) -> Remark:
    """That spots of another kind than those that count were left out."""
    values = {"spots": ", ".join(spots)}
    if counting == "films":
        return Remark(code="films count", values=values)
    return Remark(code="photographs count", values=values)


def film_share(record: Mapping[str, Any]) -> float | None:
    """Of a kept comparison of films, the share in per cent of directions that both could show; else None."""
    said = [one for one in record.get("warning_details", ()) if one["code"] == FILM_DIRECTIONS]
    return float(said[0]["values"]["share"]) if said else None


def left_out_words(record: Mapping[str, Any]) -> list[str]:
    """What a kept comparison says of spots of the other kind."""
    details, words = record.get("warning_details", ()), record.get("warnings", ())
    return [told for one, told in zip(details, words, strict=False) if one["code"] in LEFT_OUT]
