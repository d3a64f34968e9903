"""Several files at once: which spot each shows, by name, by overlap with the photographs before, by time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from defectmap.errors import PhotoError
from defectmap.record.intake import camera_time
from defectmap.record.sorting import guess_place

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Why = Literal["name", "overlap", "time", "order"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One file as it was given."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """The spot that a file is taken to show, and why."""

    name: str
    spot: str
    why: Why


def propose_spots(
    files: Sequence[Given],
    spots: Sequence[str],
    *,
    before: Mapping[str, Path],
    panels: Mapping[str, Iterable[str]],
) -> tuple[Proposal, ...]:
    """Propose a spot for each file, each spot once while there are enough of them.

    Parameters
    ----------
    files : sequence of Given
        In the order in which they were given.
    spots : sequence of str
        Spots to be filled, in their order; further ones are numbered on.
    before : mapping
        Each spot's photograph of an earlier stage, where there is one.
    panels : mapping
        The job's panels to other words for them, for reading names.
    """
    found: dict[int, tuple[str, Why]] = {}
    for index, file in enumerate(files):
        spot = guess_place([Path(file.name).stem], panels).spot
        if spot is not None and spot not in {one for one, _ in found.values()}:
            found[index] = (spot, "name")
    rest = [index for index in range(len(files)) if index not in found]
    free = {spot: path for spot, path in before.items() if spot not in {one for one, _ in found.values()}}
    found |= {index: (spot, "overlap") for index, spot in _by_overlap(files, rest, free).items()}
    rest, why = _in_time([index for index in rest if index not in found], files)
    for index, spot in zip(rest, _numbered(spots, {one for one, _ in found.values()}), strict=False):
        found[index] = (spot, why)
    return tuple(
        Proposal(name=file.name, spot=found[index][0], why=found[index][1])
        for index, file in enumerate(files)
    )


def _by_overlap(files: Sequence[Given], rest: Sequence[int], before: Mapping[str, Path]) -> dict[int, str]:
    """Files that show the place of one photograph before, and clearly so."""
    from defectmap.comparison.likeness import likeness, structure_of
    from defectmap.comparison.tuning import CLEAR_LEAD, CLEAR_PEAK

    known = {spot: small for spot, path in before.items() if (small := _small(path)) is not None}
    structures = {spot: structure_of(small) for spot, small in known.items()}
    if not structures or not rest:
        return {}
    found: dict[int, str] = {}
    for index in rest:
        small = _small(files[index].data)
        if small is None:
            continue
        here = structure_of(small)
        fits = sorted(((likeness(here, one), spot) for spot, one in structures.items()), reverse=True)
        second = fits[1][0] if len(fits) > 1 else CLEAR_PEAK
        clear = fits[0][0] >= CLEAR_PEAK and fits[0][0] >= CLEAR_LEAD * second
        if clear and fits[0][1] not in found.values():
            found[index] = fits[0][1]
    return found


def _in_time(rest: Sequence[int], files: Sequence[Given]) -> tuple[list[int], Why]:
    times = {index: camera_time(files[index].data) for index in rest}
    if all(times.values()) and len(set(times.values())) == len(times):
        return sorted(rest, key=lambda index: str(times[index])), "time"
    return list(rest), "order"


def _numbered(spots: Sequence[str], taken: set[str]) -> Iterable[str]:
    yield from (spot for spot in spots if spot not in taken)
    number = 1
    while True:
        if str(number) not in taken and str(number) not in spots:
            yield str(number)
        number += 1


def _small(source: Path | bytes) -> NDArray[np.float32] | None:
    """A small grey picture of a file; None where it is none."""
    import numpy as np

    from defectmap.comparison.tuning import LIKENESS_SIDE_PX
    from defectmap.panel.photo.photograph import small_copy

    try:
        grey: NDArray[np.float32] = small_copy(source, longest_side_px=LIKENESS_SIDE_PX).mean(
            axis=2, dtype=np.float32
        )
        return grey
    except PhotoError:
        return None
