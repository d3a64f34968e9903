"""`defectmap measure`: files in, tables and files out, one refused photograph never stopping the others."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from defectmap.commands.measure_many import results
from defectmap.commands.measure_table import print_measurements
from defectmap.commands.measure_work import Done, Work
from defectmap.commands.printing import REFUSED, STANDARD_OUTPUT, say, say_refused, write_record
from defectmap.commands.records_file import RecordsFile
from defectmap.commands.terminal import console, film_progress, progress_bar
from defectmap.errors import ScaleError
from defectmap.outputs import OutputError, check_outputs, find_photos, plan_outputs, write_file

PICTURES = frozenset({".png", ".jpg", ".jpeg"})  # what an overlay is written as


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureOptions:
    """What the person asked for; scales in their own units, targets as typed."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None
    json_file: Path | None = None
    zone: Path | None = None
    overlay: Path | None = None
    jobs: int = 1
    cluster: str | None = None
    moved_lamp: bool = False  # whether all photographs are one spot with the lamp moved

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
class Targets:
    """Where the pictures of one photograph go."""

    zone: Path | None = None
    overlay: Path | None = None


def run_measure(paths: Sequence[Path], options: MeasureOptions) -> int:
    """Measure the photographs, write each result as it comes, print tables; return the exit status.

    Raises
    ------
    DefectmapError
        The options clash, or a file to read or write is not where it should be (nothing is measured then).
    """
    options.check()
    photos = find_photos(paths)
    named = photos[:1] if options.moved_lamp else photos
    targets = plan_targets(named, options)
    to_stdout = options.json_file == STANDARD_OUTPUT
    several = len(named) > 1 or (any(path.is_dir() for path in paths) and not options.moved_lamp)
    work = [work_for(path, options, target) for path, target in zip(named, targets, strict=True)]
    if options.moved_lamp:
        work = [dataclasses.replace(work[0], series=tuple(photos))]
    ended: list[Done] = []
    unwritten: list[str] = []
    records = RecordsFile(None if to_stdout else options.json_file, several=several)
    with records, progress_bar() as progress:
        task = progress.add_task(f"measuring {photos[0].name}", total=len(named))
        if options.jobs == 1 and options.cluster is None:
            work = [dataclasses.replace(one, progress=film_progress(progress)) for one in work]
        found = results(work, jobs=options.jobs, cluster=options.cluster)
        for path, target, done in zip(named, targets, found, strict=True):
            done, problems = write_pictures(done, target)
            unwritten += problems
            records.add(done.record)
            ended.append(done)
            progress.update(task, advance=1, description=f"measured {path.name}")
    if to_stdout:
        content = [done.record for done in ended]
        write_record(content if several else content[0], STANDARD_OUTPUT)
    print_measurements(console(stderr=to_stdout), [done.measurement for done in ended if done.measurement])
    print_refusals(ended)
    unwritten += [records.problem] if records.problem else []
    print_problems(unwritten)
    return REFUSED if unwritten or any(done.measurement is None for done in ended) else 0


def plan_targets(photos: Sequence[Path], options: MeasureOptions) -> list[Targets]:
    """Choose every file to be written, and refuse those that could not be, before any work.

    Raises
    ------
    OutputError
        See `check_outputs`.
    """
    zones = plan_outputs(options.zone, photos, ending="-zone", suffix=".png")
    overlays = plan_outputs(options.overlay, photos, ending="-overlay", suffix=".png")
    json_file = None if options.json_file == STANDARD_OUTPUT else options.json_file
    check_outputs([json_file, *zones, *overlays], photos)
    return [Targets(zone=zone, overlay=over) for zone, over in zip(zones, overlays, strict=True)]


def work_for(path: Path, options: MeasureOptions, target: Targets) -> Work:
    """What is to be done with one file."""
    return Work(
        name=path.name,
        source=path,
        px_per_mm=options.px_per_mm,
        field_width_mm=options.field_width_mm,
        zone=str(target.zone) if target.zone else None,
        overlay=target.overlay.suffix if target.overlay else None,
    )


def write_pictures(done: Done, target: Targets) -> tuple[Done, list[str]]:
    """Write zone mask and overlay; what cannot be written is said at the end, and costs nothing else.

    Returns
    -------
    Done
        Without the pictures, its record naming the mask only if it was written.
    list of str
        What could not be written, and why.
    """
    problems = []
    record = done.record
    for path, data in ((target.zone, done.zone_png), (target.overlay, done.overlay)):
        if path is None or data is None:
            continue
        try:
            write_file(path, data)
        except OutputError as error:
            problems.append(str(error))
            if path == target.zone:
                record = {**record, "zone": {**record["zone"], "mask_png": None}}
    return dataclasses.replace(done, record=record, zone_png=None, overlay=None), problems


def print_refusals(ended: Sequence[Done]) -> None:
    """Say on standard error which photographs were refused, a line each."""
    for done in ended:
        if done.measurement is None:
            kind = "Failed" if done.fault else "Refused"
            say_refused(done.record["photo"]["name"], done.record["refused"], kind=kind)


def print_problems(problems: Sequence[str]) -> None:
    """Say on standard error which results could not be written."""
    for words in problems:
        say(f"Not written: {words}", error=True)
