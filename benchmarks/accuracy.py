#!/usr/bin/env python3
"""Measure photographs whose truth is known and say how far the measurement is from it.

    python benchmarks/accuracy.py [FOLDER ...] [--markdown] [--update-docs]

A folder holds NAME.jpg beside NAME.truth.json: ``px_per_mm``, ``hotspot`` (x, y) and ``visible``, the
pieces of grooves that the photograph shows, each with ``kind`` and ``points`` (x, y). Everything is judged
inside the measurement's own zone:

What counts as found is every line traced at three times the noise or more, marks of the standard and fainter
ones alike, since the truth holds every piece that is visible at three times the noise; the program
itself goes on below that limit, to where the grain of the picture ends it.

- precision: share of the length of found marks that lies within 2.5 px of a visible piece;
- recall: share of the length of visible pieces that lies within 2.5 px of a found mark; F1 joins the two;
- density: traced length, with what stronger neighbours hide of it, against visible length per area of zone;
  beside it that of standard marks, which the figures of the program are of;
- kind: of the length found on visible swirls, and on visible scratches, the share that was called so;
- covered: share of the lit area (within 3 mm of a visible piece) that is in the zone;
- lamp: distance of the hotspot's centre from the truth, over its radius.
"""

from __future__ import annotations

import argparse
import json
import math
import statistics
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from defectmap import measure
from defectmap.errors import PhotoError
from defectmap.panel.measurement import PanelMeasurement

NEAR_PX = 2.5
TRUTH_LIMIT = 3.0  # times the noise of a pixel: what the samples' truth holds
LIT_MM = 3.0
KINDS = ("swirl", "scratch")
STEP_PX = 0.5  # lines become points this far apart, each standing for as much length
SAMPLES = Path(__file__).resolve().parent.parent / "samples" / "photos"
DOCUMENT = SAMPLES.parent.parent / "docs" / "accuracy.md"
MARKERS = ("<!-- accuracy: written by benchmarks/accuracy.py -->", "<!-- end of accuracy -->")


@dataclass(frozen=True, slots=True)
class Line:
    """A mark or a visible piece as evenly spaced points (row, column), each `weight_px` of length."""

    kind: str
    points: NDArray[np.float64]
    weight_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """One photograph judged; shares are 0..1, NaN where there is nothing to judge."""

    name: str
    f1: float
    precision: float
    recall: float
    true_density: float
    standard_density: float  # marks of the standard, which the figures are of
    traced_density: float  # fainter ones too, as the truth has them
    told: dict[str, tuple[float, float]]  # see `kinds_told`
    covered: float
    lamp_offset: float
    seconds: float

    @property
    def density_error(self) -> float:
        """Relative error of the traced density; NaN on a panel without visible marks."""
        return self.traced_density / self.true_density - 1 if self.true_density > 0 else math.nan


def evenly(kind: str, points: NDArray[np.float64]) -> Line:
    """Resample a polyline at the middles of steps of about `STEP_PX`."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    count = max(1, round(along[-1] / STEP_PX))
    at = (np.arange(count) + 0.5) / count * along[-1]
    spaced = np.column_stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])])
    return Line(kind, spaced, along[-1] / count)


def inside(line: Line, zone: NDArray[np.bool_]) -> Line:
    """Return the part of a line that lies in the zone."""
    row, column = np.clip(np.round(line.points).astype(int), 0, np.array(zone.shape) - 1).T
    return Line(line.kind, line.points[zone[row, column]], line.weight_px)


def length_px(lines: Iterable[Line]) -> float:
    return sum(len(line.points) * line.weight_px for line in lines)


def tree(lines: Sequence[Line]) -> KDTree | None:
    points = [line.points for line in lines if len(line.points)]
    return KDTree(np.concatenate(points)) if points else None


def share_near(lines: Sequence[Line], others: KDTree | None) -> float:
    """Share of the lines' length within `NEAR_PX` of the others; NaN without length."""
    total = length_px(lines)
    if total == 0:
        return math.nan
    if others is None:
        return 0.0
    near = sum(
        np.count_nonzero(others.query(line.points, distance_upper_bound=NEAR_PX)[0] <= NEAR_PX)
        * line.weight_px
        for line in lines
        if len(line.points)
    )
    return float(near / total)


def kinds_told(found: Sequence[Line], truth: Sequence[Line]) -> dict[str, tuple[float, float]]:
    """For each kind of visible piece: length found on such pieces, and how much of it was given that kind."""
    told = {kind: (0.0, 0.0) for kind in KINDS}
    trees = {kind: tree([line for line in truth if line.kind == kind]) for kind in KINDS}
    for line in (line for line in found if len(line.points)):
        far = np.full(len(line.points), np.inf)
        away = np.stack([t.query(line.points)[0] if (t := trees[kind]) else far for kind in KINDS])
        nearest, on = away.argmin(axis=0), away.min(axis=0) <= NEAR_PX
        for index, kind in enumerate(KINDS):
            length = np.count_nonzero(on & (nearest == index)) * line.weight_px
            told[kind] = (told[kind][0] + length, told[kind][1] + (length if line.kind == kind else 0.0))
    return told


def share_right(told: Iterable[tuple[float, float]]) -> float:
    """Share of length that was given the right kind, in percent; NaN without length."""
    lengths = list(told)
    total = sum(length for length, _ in lengths)
    return 100 * sum(right for _, right in lengths) / total if total else math.nan


def covered(truth: Sequence[Line], zone: NDArray[np.bool_], *, px_per_mm: float) -> float:
    """Share of the lit area that is in the zone."""
    lines = np.ones(zone.shape, np.uint8)
    for line in truth:
        row, column = np.clip(np.round(line.points).astype(int), 0, np.array(zone.shape) - 1).T
        lines[row, column] = 0
    if lines.all():
        return math.nan
    lit = cv2.distanceTransform(lines, cv2.DIST_L2, cv2.DIST_MASK_PRECISE) <= LIT_MM * px_per_mm
    return float((lit & zone).sum() / lit.sum())


def judge(name: str, measured: PanelMeasurement, truth: dict[str, Any], *, seconds: float) -> Judgement:
    """Compare one measurement with its truth."""
    zone, px_per_mm = measured.zone, float(truth["px_per_mm"])
    everywhere = [
        evenly(piece["kind"], np.array(piece["points"], float)[:, ::-1]) for piece in truth["visible"]
    ]
    visible = [inside(line, zone) for line in everywhere]
    every = (*measured.marks, *measured.faint_marks)
    traced = [mark for mark in every if mark.contrast_to_noise >= TRUTH_LIMIT]
    found = [inside(evenly(mark.kind, mark.points), zone) for mark in traced]
    counted_px = sum(length_px([line]) * mark.stands_for for line, mark in zip(found, traced, strict=True))
    precision, recall = share_near(found, tree(everywhere)), share_near(visible, tree(found))
    offset_px = math.hypot(
        measured.hotspot.column - truth["hotspot"]["x"], measured.hotspot.row - truth["hotspot"]["y"]
    )
    return Judgement(
        name=name,
        f1=2 * precision * recall / (precision + recall) if precision + recall > 0 else math.nan,
        precision=precision,
        recall=recall,
        true_density=length_px(visible) / px_per_mm / measured.area_cm2,
        standard_density=measured.density.all,
        traced_density=counted_px / px_per_mm / measured.area_cm2,
        told=kinds_told(found, everywhere),
        covered=covered(everywhere, zone, px_per_mm=px_per_mm),
        lamp_offset=offset_px / measured.hotspot.radius_px,
        seconds=seconds,
    )


COLUMNS = (
    ("F1", lambda j: f"{j.f1:.3f}"),
    ("precision", lambda j: f"{j.precision:.3f}"),
    ("recall", lambda j: f"{j.recall:.3f}"),
    ("true mm/cm²", lambda j: f"{j.true_density:.2f}"),
    ("standard mm/cm²", lambda j: f"{j.standard_density:.2f}"),
    ("traced mm/cm²", lambda j: f"{j.traced_density:.2f}"),
    ("error %", lambda j: f"{100 * j.density_error:+.1f}"),
    ("swirl right %", lambda j: f"{share_right([j.told['swirl']]):.0f}"),
    ("scratch right %", lambda j: f"{share_right([j.told['scratch']]):.0f}"),
    ("covered %", lambda j: f"{100 * j.covered:.0f}"),
    ("lamp off %", lambda j: f"{100 * j.lamp_offset:.1f}"),
    ("s", lambda j: f"{j.seconds:.1f}"),
)


def table(judgements: Sequence[Judgement], *, markdown: bool) -> str:
    rows = [["photo", *(head for head, _ in COLUMNS)]]
    rows += [
        [j.name, *(figure(j).replace("+nan", "-").replace("nan", "-") for _, figure in COLUMNS)]
        for j in judgements
    ]
    if markdown:
        rows.insert(1, ["---"] + ["---:"] * len(COLUMNS))
        return "\n".join("| " + " | ".join(row) + " |" for row in rows)
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return "\n".join(
        "  ".join(
            [row[0].ljust(widths[0]), *(cell.rjust(w) for cell, w in zip(row[1:], widths[1:], strict=True))]
        )
        for row in rows
    )


def summary(judgements: Sequence[Judgement]) -> str:
    """The figures that a reader compares."""
    said = []
    marked = [j for j in judgements if math.isfinite(j.density_error)]
    blank = [j.standard_density for j in judgements if not math.isfinite(j.density_error)]
    if marked:
        errors = [abs(100 * j.density_error) for j in marked]
        f1 = [j.f1 if math.isfinite(j.f1) else 0.0 for j in marked]
        swirl, scratch = (share_right(j.told[kind] for j in marked) for kind in KINDS)
        said.append(
            f"F1 mean {statistics.mean(f1):.3f}, lowest {min(f1):.3f}; density error median "
            f"{statistics.median(errors):.1f} %, worst {max(errors):.1f} %; length given the right kind: "
            f"swirl {swirl:.0f} %, scratch {scratch:.0f} %; lit area covered "
            f"{100 * statistics.mean(j.covered for j in marked):.0f} %."
        )
    if blank:
        said.append(f"Panels without visible marks: false marks {max(blank):.2f} mm/cm² at most.")
    return " ".join(said)


def update_docs(judgements: Sequence[Judgement]) -> None:
    """Put the table and the summary between the two markers of docs/accuracy.md."""
    before, rest = DOCUMENT.read_text(encoding="utf-8").split(MARKERS[0])
    after = rest.split(MARKERS[1])[1]
    text = f"\n{table(judgements, markdown=True)}\n\n{summary(judgements)}\n"
    DOCUMENT.write_text(before + MARKERS[0] + text + MARKERS[1] + after, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folders", nargs="*", type=Path, default=[SAMPLES], metavar="FOLDER")
    parser.add_argument("--markdown", action="store_true", help="print the table as Markdown")
    parser.add_argument("--update-docs", action="store_true", help="write the table into docs/accuracy.md")
    options = parser.parse_args()
    judgements = []
    for truth_file in sorted(file for folder in options.folders for file in folder.glob("*.truth.json")):
        name = truth_file.name.removesuffix(".truth.json")
        truth = json.loads(truth_file.read_text(encoding="utf-8"))
        start = time.perf_counter()
        try:
            measured = measure(truth_file.with_name(f"{name}.jpg"), px_per_mm=truth["px_per_mm"])
        except PhotoError as error:
            print(f"{name}: refused: {error}")
            continue
        judgements.append(judge(name, measured, truth, seconds=time.perf_counter() - start))
    print(table(judgements, markdown=options.markdown))
    print(f"\n{summary(judgements)}")
    if options.update_docs:
        update_docs(judgements)


if __name__ == "__main__":
    main()
