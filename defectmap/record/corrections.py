"""Corrections by hand: a wrong kind put right, an area left out. The photograph and its result stay as they
are.

A correction is a new result beside the old one, with the corrections among its settings; the latest result
of a photograph is the one that counts. Undoing writes another one with fewer corrections, so every state
that ever counted stays in the record, sealed like any result.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from defectmap.errors import JobError
from defectmap.words.remark import Remark

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from defectmap.panel.measurement import Mark, PanelMeasurement

NewKind = Literal["swirl", "scratch", "trail", "none"]
NEW_KINDS: tuple[NewKind, ...] = ("swirl", "scratch", "trail", "none")
SAME_PLACE_PX = 3.0  # a mark is known again by its middle, and by its length within a fifth
SAME_LENGTH_SHARE = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Relabel:
    """This mark is of another kind, or (`none`) no mark of the paint at all."""

    x: float  # middle of the mark, px
    y: float
    length_mm: float
    kind: NewKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Exclusion:
    """Nothing in this rectangle counts; edges in px, x right and y down."""

    left: float
    top: float
    right: float
    bottom: float


Correction = Relabel | Exclusion


def relabel(mark: Mark, kind: NewKind) -> Relabel:
    """A correction of one mark's kind."""
    row, column = mark.points[len(mark.points) // 2]
    return Relabel(x=round(float(column), 2), y=round(float(row), 2), length_mm=mark.length_mm, kind=kind)


def hand_counts(corrections: Iterable[Correction]) -> dict[str, int]:
    """How many marks were taken out by hand, how many got another kind, how many areas were left out."""
    counts = {"removed": 0, "kind_changed": 0, "areas": 0}
    for one in corrections:
        if isinstance(one, Exclusion):
            counts["areas"] += 1
        else:
            counts["removed" if one.kind == "none" else "kind_changed"] += 1
    return counts


def to_plain(corrections: Sequence[Correction]) -> list[dict[str, Any]]:
    """Corrections as they stand among a result's settings."""
    return [
        {"what": "kind" if isinstance(one, Relabel) else "area", **dataclasses.asdict(one)}
        for one in corrections
    ]


def from_plain(found: Sequence[Mapping[str, Any]]) -> tuple[Correction, ...]:
    """Turn `to_plain` round.

    Raises
    ------
    JobError
        What stands there is no correction.
    """
    corrections: list[Correction] = []
    for one in found:
        given = {key: value for key, value in one.items() if key != "what"}
        try:
            corrections.append(Relabel(**given) if one["what"] == "kind" else Exclusion(**given))
        except (KeyError, TypeError) as error:
            raise JobError("A stored correction cannot be read; measure the photograph again.") from error
    return tuple(corrections)


def corrected(measured: PanelMeasurement, corrections: Sequence[Correction]) -> PanelMeasurement:
    """Apply corrections to a measurement, in their order.

    Parameters
    ----------
    measured : PanelMeasurement
        As the program measured it.
    corrections : sequence of Correction
        A later one about the same mark wins.

    Returns
    -------
    PanelMeasurement
        Marks, zone and every figure that follows from them; haze, hotspot and limits stay.
    """
    from defectmap.panel.finish import panel_figures

    if not corrections:
        return measured
    marks = [m for m in (_relabelled(mark, corrections) for mark in measured.marks) if m is not None]
    zone = measured.zone
    areas = [one for one in corrections if isinstance(one, Exclusion)]
    if areas:
        zone = _left_over(zone, areas)
        marks = [piece for mark in marks for piece in _outside(mark, areas)]
    faint = tuple(piece for mark in measured.faint_marks for piece in _outside(mark, areas))
    spots = tuple(s for s in measured.spots if not any(_inside(area, s.column, s.row) for area in areas))
    if not zone.any():
        raise JobError("These areas leave nothing to count in; undo one of them.")
    figures = panel_figures(
        marks, spots, zone, measured.hotspot, haze=measured.haze, px_per_mm=measured.scale.px_per_mm
    )
    return dataclasses.replace(
        measured,
        zone=zone,
        area_cm2=figures.area_cm2,
        marks=tuple(marks),
        spots=spots,
        density=figures.density,
        rings=figures.rings if measured.film is None else (),  # rings are about one lamp place
        longest_scratch_mm=figures.longest_scratch_mm,
        score=figures.score if measured.score is not None else None,
        faint_marks=faint,
        strength=_strength(measured, (*marks, *faint), area_cm2=figures.area_cm2),
        warnings=(*measured.warnings, _remark(corrections)),
    )


def _strength(measured: PanelMeasurement, left: Sequence[Mark], *, area_cm2: float) -> dict[int, float]:
    """What is left of the density at each strength, by what is left of the marks and of the area."""
    from defectmap.panel.standard import spectrum
    from defectmap.panel.tuning import TYPICAL_PX_PER_MM

    mm = 1.0 if measured.scale.calibrated else TYPICAL_PX_PER_MM
    before = spectrum((*measured.marks, *measured.faint_marks), area_cm2=measured.area_cm2, mm=mm)
    after = spectrum(left, area_cm2=area_cm2, mm=mm)
    return {
        um: density * after[um] / before[um] if before[um] else density
        for um, density in measured.strength.items()
    }


def corrections_in(settings: Mapping[str, Any]) -> tuple[Correction, ...]:
    """The corrections among a result's settings; none where it is as the program measured it."""
    return from_plain(settings.get("corrections", ()))


def _relabelled(mark: Mark, corrections: Sequence[Correction]) -> Mark | None:
    kind: NewKind = mark.kind
    row, column = mark.points[len(mark.points) // 2]
    for one in corrections:
        if isinstance(one, Relabel) and _is_same(one, float(column), float(row), mark.length_mm):
            kind = one.kind
    if kind == "none":
        return None
    return mark if kind == mark.kind else dataclasses.replace(mark, kind=kind)


def _is_same(one: Relabel, x: float, y: float, length_mm: float) -> bool:
    near = abs(one.x - x) <= SAME_PLACE_PX and abs(one.y - y) <= SAME_PLACE_PX
    return near and abs(one.length_mm - length_mm) <= SAME_LENGTH_SHARE * max(one.length_mm, length_mm)


def _left_over(zone: NDArray[np.bool_], areas: Sequence[Exclusion]) -> NDArray[np.bool_]:
    import numpy as np

    rows = np.arange(zone.shape[0])
    columns = np.arange(zone.shape[1])
    left = zone.copy()
    for area in areas:
        down = (rows >= area.top) & (rows <= area.bottom)
        along = (columns >= area.left) & (columns <= area.right)
        left[np.ix_(down, along)] = False
    return left


def _outside(mark: Mark, areas: Sequence[Exclusion]) -> list[Mark]:
    """The pieces of a mark outside the rectangles, each with its share of the length."""
    import numpy as np

    points = mark.points
    inside = np.zeros(len(points), bool)
    for area in areas:
        inside |= (
            (points[:, 1] >= area.left)
            & (points[:, 1] <= area.right)
            & (points[:, 0] >= area.top)
            & (points[:, 0] <= area.bottom)
        )
    if not inside.any():
        return [mark]
    steps = np.hypot(*np.diff(points, axis=0).T)
    whole = float(steps.sum())
    pieces = []
    for run in np.split(np.arange(len(points)), np.flatnonzero(np.diff(inside.astype(int))) + 1):
        if inside[run[0]] or len(run) < 2:
            continue
        share = float(steps[run[0] : run[-1]].sum()) / whole if whole > 0 else 0.0
        where = slice(int(run[0]), int(run[-1]) + 1)
        length_mm, um = share * mark.length_mm, mark.equivalent_width_um
        pieces.append(mark.piece(where, length_mm=length_mm, equivalent_width_um=um))
    return pieces


def _inside(area: Exclusion, x: float, y: float) -> bool:
    return area.left <= x <= area.right and area.top <= y <= area.bottom


def _remark(corrections: Sequence[Correction]) -> Remark:
    areas = sum(isinstance(one, Exclusion) for one in corrections)
    return Remark(code="by-hand", values={"kinds": len(corrections) - areas, "areas": areas})
