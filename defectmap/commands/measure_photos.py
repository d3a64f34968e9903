"""`defectmap measure`: files in, tables and files out, one refused photograph never stopping the others."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from rich.console import Console

from defectmap.commands.measure_table import print_measurements
from defectmap.commands.terminal import console, progress_bar
from defectmap.errors import PhotoError, ScaleError
from defectmap.outputs import OutputError, find_photos, plan_outputs, protect_photos, writing
from defectmap.panel.codec import Record, json_text, measurement_record, refusal_record, write_zone_png
from defectmap.panel.measure import measure
from defectmap.panel.measurement import PanelMeasurement
from defectmap.panel.photo import photograph as photo
from defectmap.panel.photo.head import read_file
from defectmap.pictures.overlay import draw_overlay

STANDARD_OUTPUT = Path("-")
REFUSED = 3
PICTURES = frozenset({".png", ".jpg", ".jpeg"})  # what an overlay is written as


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureOptions:
    """What the person asked for; scales in their own units, targets as typed."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None
    json_file: Path | None = None
    zone: Path | None = None
    overlay: Path | None = None

    def check(self) -> None:
        """Raise `ScaleError` for scales that clash or are no lengths, `OutputError` for odd file endings."""
        if self.px_per_mm is not None and self.field_width_mm is not None:
            raise ScaleError("Give either --px-per-mm or --field-width-mm, not both.")
        for option, value in (("--px-per-mm", self.px_per_mm), ("--field-width-mm", self.field_width_mm)):
            if value is not None and not (math.isfinite(value) and value > 0):
                raise ScaleError(f"{option} must be a number above 0, got {value:g}; measure it on a ruler.")
        for option, target, known in (("--zone", self.zone, {".png"}), ("--overlay", self.overlay, PICTURES)):
            if target and target.suffix and not target.is_dir() and target.suffix.lower() not in known:
                raise OutputError(
                    f"{option} {target} must end in {' or '.join(sorted(known))}, or name a folder."
                )


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoResult:
    """One photograph, measured or refused."""

    record: Record
    measurement: PanelMeasurement | None

    def without_zone(self) -> PhotoResult:
        """Drop the zone mask, so that a folder of photographs does not fill the memory."""
        if self.measurement is None:
            return self
        slim = dataclasses.replace(self.measurement, zone=np.empty((0, 0), np.bool_))
        return PhotoResult(record=self.record, measurement=slim)


def run_measure(paths: Sequence[Path], options: MeasureOptions) -> int:
    """Measure the photographs, write what was asked for, print tables; return the exit status.

    Raises
    ------
    DefectmapError
        The options clash, or a file to read or write is not where it should be (nothing is measured then).
    """
    options.check()
    photos = find_photos(paths)
    to_stdout = options.json_file == STANDARD_OUTPUT
    zones = plan_outputs(options.zone, photos, ending="-zone", suffix=".png")
    overlays = plan_outputs(options.overlay, photos, ending="-overlay", suffix=".png")
    if options.json_file and not to_stdout:
        protect_photos([options.json_file], photos)
    results: list[PhotoResult] = []
    with progress_bar() as progress:
        task = progress.add_task("measuring", total=len(photos))
        for path, zone, overlay in zip(photos, zones, overlays, strict=True):
            progress.update(task, description=f"measuring {path.name}")
            results.append(measure_file(path, options, zone=zone, overlay=overlay).without_zone())
            progress.advance(task)
    several = len(photos) > 1 or any(path.is_dir() for path in paths)
    _write_json([result.record for result in results], options.json_file, several=several)
    print_measurements(console(stderr=to_stdout), [r.measurement for r in results if r.measurement])
    print_refusals(results)
    return REFUSED if any(result.measurement is None for result in results) else 0


def measure_file(
    path: Path, options: MeasureOptions, *, zone: Path | None = None, overlay: Path | None = None
) -> PhotoResult:
    """Measure one file and write its zone mask and overlay; a refusal is a result, not an error."""
    data: bytes | None = None
    try:
        data, _ = read_file(path)
        shot = photo.load(data, name=path.name)
        measured = measure(shot, px_per_mm=options.px_per_mm, field_width_mm=options.field_width_mm)
    except PhotoError as error:
        return PhotoResult(record=refusal_record(path.name, str(error), data=data), measurement=None)
    if zone:
        with writing(zone):
            write_zone_png(measured.zone, zone)
    if overlay:
        with writing(overlay):
            write_overlay(shot, measured, overlay)
    record = measurement_record(measured, mask_png=str(zone) if zone else None)
    return PhotoResult(record=record, measurement=measured)


def write_overlay(shot: photo.Photo, measured: PanelMeasurement, path: Path) -> None:
    """Draw the overlay of a photograph and write it as PNG or JPEG, by the file's ending."""
    from PIL import Image

    # Full colour resolution: JPEG's usual halving turns thin coloured lines grey.
    Image.fromarray(draw_overlay(shot.rgb, measured)).save(path, quality=88, subsampling=0)


def _write_json(records: list[Record], target: Path | None, *, several: bool) -> None:
    if target is None:
        return
    content: list[Record] | Record = records if several else records[0]
    if target == STANDARD_OUTPUT:
        print(json_text(content, ascii_only=True), end="")
        return
    with writing(target):
        target.write_text(json_text(content), encoding="utf-8")


def print_refusals(results: Sequence[PhotoResult]) -> None:
    """Say on standard error which photographs were refused, a line each."""
    screen = Console(stderr=True, soft_wrap=True)
    for result in results:
        if result.measurement is None:
            name, reason = result.record["photo"]["name"], result.record["refused"]
            words = reason if name in reason else f"{name}: {reason}"
            screen.print(f"Refused: {words}", markup=False, highlight=False)
