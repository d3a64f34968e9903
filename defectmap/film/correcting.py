"""A film whose marks were put right by hand: what a person said of its marks holds for its lines as well."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from defectmap.film.assembling import FilmMeasurement
from defectmap.film.strongest import Lines
from defectmap.panel.measurement import Mark, PanelMeasurement
from defectmap.panel.paths import Paths


def as_corrected(film: FilmMeasurement, panel: PanelMeasurement) -> FilmMeasurement:
    """The film with its lines cut to a corrected panel, for comparing.

    Parameters
    ----------
    film : FilmMeasurement
        As the program measured it.
    panel : PanelMeasurement
        The same after corrections: marks taken out or of another kind, areas left out of the zone.

    Returns
    -------
    FilmMeasurement
        Lines outside the zone are gone, marks that were taken out show nothing, and a piece of another kind
        is a line of its own.
    """
    place = {tuple(point): number for number, point in enumerate(film.lines.paths.points.tolist())}
    names = sorted(set(film.line_kinds) | {mark.kind for mark in panel.marks})
    kind = np.repeat([names.index(one) for one in film.line_kinds], film.lines.paths.lengths).astype(np.intp)
    um = film.lines.um.copy()
    um[:, _points_of(film.panel.marks, place)] = 0.0
    for mark in panel.marks:
        points = _points_of((mark,), place)
        um[:, points] = film.lines.um[:, points]
        kind[points] = names.index(mark.kind)
    lines, kinds = _cut(replace(film.lines, um=um), kind, _inside(film.lines, panel.zone))
    return replace(film, panel=panel, lines=lines, line_kinds=tuple(names[number] for number in kinds))


def _points_of(marks: tuple[Mark, ...], place: dict[tuple[float, ...], int]) -> list[int]:
    """Where the points of marks (row, column) stand among those of the lines (x, y)."""
    found = (place.get((x, y)) for mark in marks for y, x in mark.points.tolist())
    return [number for number in found if number is not None]


def _inside(lines: Lines, zone: NDArray[np.bool_]) -> NDArray[np.bool_]:
    places = np.round(lines.paths.points[:, ::-1]).astype(int)
    within = np.all((places >= 0) & (places < zone.shape), axis=1)
    within[within] = zone[tuple(places[within].T)]
    return np.asarray(within, np.bool_)


def _cut(lines: Lines, kind: NDArray[np.intp], kept: NDArray[np.bool_]) -> tuple[Lines, list[int]]:
    """Lines cut where their kind changes or they are not kept, and the kind of each."""
    key = np.stack([lines.paths.owner, kind, kept])
    starts = (
        np.flatnonzero(np.r_[True, (np.diff(key, axis=1) != 0).any(axis=0)])
        if kept.size
        else kept.nonzero()[0]
    )
    runs = [run for run in np.split(np.arange(kept.size), starts[1:]) if len(run) > 1 and kept[run[0]]]
    chosen = np.concatenate(runs) if runs else np.empty(0, np.intp)
    cut = Lines(
        paths=Paths(lines.paths.points[chosen], np.array([len(run) for run in runs], np.int64)),
        um=lines.um[:, chosen],
        beside=lines.beside[chosen],
        contrast_to_noise=lines.contrast_to_noise[chosen],
        width_mm=lines.width_mm[chosen],
    )
    return cut, [int(kind[run[0]]) for run in runs]
