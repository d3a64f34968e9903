"""Scales typed at the command line: one for all photographs, or one for each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from defectmap.errors import ScaleError

ONE_OR_EACH = "once for all, or once for each photograph in their order."
PxPerMmEach = Annotated[
    list[float] | None,
    typer.Option(
        "--px-per-mm", metavar="N", help=f"Scale: pixels for one millimetre of panel, {ONE_OR_EACH}"
    ),
]
FieldWidthMmEach = Annotated[
    list[float] | None,
    typer.Option(
        "--field-width-mm", metavar="W", help=f"Scale: millimetres of panel across the picture, {ONE_OR_EACH}"
    ),
]


@dataclass(frozen=True, slots=True)
class PhotoScale:
    """What was typed for one photograph; None where nothing was."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None


def typed_scales(
    paths: Sequence[Path], px_per_mm: Sequence[float] | None, field_width_mm: Sequence[float] | None
) -> dict[Path, PhotoScale]:
    """Give each photograph its scale.

    Parameters
    ----------
    paths : sequence of Path
        In the order in which they were named; a file named twice has one scale.
    px_per_mm, field_width_mm : sequence of float or None
        None of them, one for all, or one for each path.

    Returns
    -------
    dict
        A scale for each path.

    Raises
    ------
    ScaleError
        There is neither one nor one for each, or one file would have two scales.
    """
    first = _one_each("--px-per-mm", px_per_mm or (), len(paths))
    second = _one_each("--field-width-mm", field_width_mm or (), len(paths))
    found: dict[Path, PhotoScale] = {}
    for path, scale in zip(paths, map(PhotoScale, first, second), strict=True):
        if found.setdefault(path, scale) != scale:
            raise ScaleError(f"{path.name} is named twice, with two scales; give both the same.")
    return found


def _one_each(option: str, typed: Sequence[float], count: int) -> Sequence[float | None]:
    if len(typed) < 2:
        return [*typed, None][:1] * count
    if len(typed) != count:
        raise ScaleError(
            f"{option} was given {len(typed)} times for {count} photographs; give it once, or once for each."
        )
    return typed
