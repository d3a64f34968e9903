"""What `defectmap compare` and `defectmap repeat` do: read, measure, compare, print, write."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import cast

from defectmap.commands.compare_table import print_comparison, print_setup
from defectmap.commands.terminal import console, progress_bar
from defectmap.comparison.compare import Shot, align_shots, compare_shots, measured_shot
from defectmap.comparison.contract import comparison_record, refused_record, setup_record
from defectmap.comparison.masking import STAGES, Stage
from defectmap.comparison.outcome import Comparison
from defectmap.comparison.repeating import MIN_SHOTS, repeat_profile
from defectmap.comparison.setup_profile import find_profile, save_profile
from defectmap.errors import DefectmapError, PhotoError
from defectmap.outputs import OutputError, check_outputs, find_photos, write_file
from defectmap.panel.codec import Record, json_text, measurement_record, refusal_record
from defectmap.panel.photo import photograph as photo
from defectmap.pictures.crops import Centre, crop_pair, side_by_side

REFUSED = 3
STANDARD_OUTPUT = Path("-")
CENTRES: tuple[Centre, ...] = ("hotspot", "worst scratch")


class StageError(DefectmapError):
    """A stage was named that does not exist."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareOptions:
    """What the person asked `compare` for."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None
    before_stage: str | None = None
    after_stage: str | None = None
    unwiped: tuple[Path, ...] = ()
    setup: str | None = None
    json_file: Path | None = None
    report: Path | None = None
    crops: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatOptions:
    """What the person asked `repeat` for."""

    px_per_mm: float | None = None
    field_width_mm: float | None = None
    setup: str = "default"
    json_file: Path | None = None
    save: bool = True


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Read:
    """One file: a shot, or why it was refused."""

    path: Path
    shot: Shot | None
    refusal: Record | None

    @property
    def record(self) -> Record:
        if self.refusal is not None:
            return self.refusal
        assert self.shot is not None
        return measurement_record(self.shot.measured, with_points=False)


def run_compare(before: Sequence[Path], after: Sequence[Path], options: CompareOptions) -> int:
    """Compare files, write what was asked for, print; return the exit status.

    Raises
    ------
    DefectmapError
        The options clash, or a file to read or write is not where it should be.
    """
    stages = stage_named(options.before_stage), stage_named(options.after_stage)
    setup = find_profile(options.setup)
    sides = [find_photos(paths) for paths in (before, after, options.unwiped) if paths]
    everything = [path for side in sides for path in side]
    _check_targets(options, everything)
    read = _read_all(everything, options.px_per_mm, options.field_width_mm)
    parts = [[read[path] for path in side] for side in sides]
    refused = [one for one in read.values() if one.refusal]
    if refused:
        _print_refused(refused)
        _write_json(refused_record(*([one.record for one in part] for part in parts[:2])), options.json_file)
        return REFUSED
    shots = [[cast(Shot, one.shot) for one in part] for part in parts]
    found = compare_shots(
        shots[0],
        shots[1],
        unwiped=shots[2] if len(shots) > 2 else (),
        before_stage=stages[0],
        after_stage=stages[1],
        setup=setup,
    )
    _write_json(comparison_record(found), options.json_file)
    if options.crops:
        write_crops(shots[0], shots[1], found, options.crops)
    if options.report:
        _write_report(found, shots[0], shots[1], options.report)
    print_comparison(console(stderr=options.json_file == STANDARD_OUTPUT), found)
    return 0


def run_repeat(photos: Sequence[Path], options: RepeatOptions) -> int:
    """Measure several photographs of one spot, report and keep their repeatability; return the exit status.

    Raises
    ------
    DefectmapError
        There are too few photographs, or a file is not where it should be.
    """
    paths = find_photos(photos)
    if len(paths) < MIN_SHOTS:
        raise OutputError(f"Give at least {MIN_SHOTS} photographs of one spot, five are better.")
    read = _read_all(paths, options.px_per_mm, options.field_width_mm)
    refused = [one for one in read.values() if one.refusal]
    _print_refused(refused)
    shots = [read[path].shot for path in paths]
    held = [shot for shot in shots if shot is not None]
    if len(held) < MIN_SHOTS:
        return REFUSED
    poses = [align_shots(held[0], shot) for shot in held[1:]]
    profile = repeat_profile([shot.measured for shot in held], poses, name=options.setup)
    _write_json(setup_record(profile), options.json_file)
    screen = console(stderr=options.json_file == STANDARD_OUTPUT)
    print_setup(screen, profile)
    if options.save:
        path = save_profile(profile)
        screen.print(f"Kept as set-up '{profile.name}' in {path}.", markup=False, highlight=False)
    return REFUSED if refused else 0


def stage_named(name: str | None) -> Stage | None:
    """Find the stage that a person named.

    Raises
    ------
    StageError
        There is no such stage.
    """
    if name is None:
        return None
    if name not in STAGES:
        raise StageError(f"'{name}' is not a valid stage; use one of: {', '.join(STAGES)}.")
    return name


def write_crops(before: Sequence[Shot], after: Sequence[Shot], found: Comparison, folder: Path) -> list[Path]:
    """Write side-by-side pictures of every spot, about the hotspot and about the worst scratch."""
    from PIL import Image

    written = []
    for number, (one, other, spot) in enumerate(zip(before, after, found.spots, strict=True), start=1):
        for centre in CENTRES:
            pair = crop_pair(one.photo, other.photo, spot, centre=centre)
            path = folder / f"spot{number}-{centre.replace(' ', '-')}.png"
            out = io.BytesIO()
            Image.fromarray(side_by_side(pair)).save(out, format="PNG")
            write_file(path, out.getvalue())
            written.append(path)
    return written


def _check_targets(options: CompareOptions, photos: Sequence[Path]) -> None:
    if options.report and options.report.suffix.lower() not in (".html", ".pdf"):
        raise OutputError(f"--report {options.report} must end in .html or .pdf.")
    targets = [path for path in (options.json_file, options.report) if path and path != STANDARD_OUTPUT]
    check_outputs(targets, photos)


def _read_all(
    paths: Sequence[Path], px_per_mm: float | None, field_width_mm: float | None
) -> dict[Path, _Read]:
    """Load and measure each file once, a refusal stopping none of the others."""
    read: dict[Path, _Read] = {}
    with progress_bar() as progress:
        task = progress.add_task("measuring", total=len(paths))
        for path in paths:
            progress.update(task, description=f"measuring {path.name}")
            if path not in read:
                read[path] = _read(path, px_per_mm, field_width_mm)
            progress.advance(task)
    return read


def _read(path: Path, px_per_mm: float | None, field_width_mm: float | None) -> _Read:
    try:
        shot = measured_shot(photo.load(path), px_per_mm=px_per_mm, field_width_mm=field_width_mm)
    except PhotoError as error:
        return _Read(path=path, shot=None, refusal=refusal_record(path.name, str(error)))
    return _Read(path=path, shot=shot, refusal=None)


def _print_refused(refused: Sequence[_Read]) -> None:
    screen = console(stderr=True)
    for one in refused:
        reason = one.record["refused"]
        words = reason if one.path.name in reason else f"{one.path.name}: {reason}"
        screen.print(f"Refused: {words}", markup=False, highlight=False, soft_wrap=True)


def _write_json(record: Record, target: Path | None) -> None:
    if target is None:
        return
    if target == STANDARD_OUTPUT:
        print(json_text(record, ascii_only=True), end="")
        return
    write_file(target, json_text(record).encode())


def _write_report(found: Comparison, before: Sequence[Shot], after: Sequence[Shot], path: Path) -> None:
    """Hand over to the report, where this installation has it."""
    from importlib import import_module

    try:
        report = import_module("defectmap.report.comparing")
    except ModuleNotFoundError as error:
        raise OutputError("This installation has no reports; use --json and --crops instead.") from error
    report.write_comparison_report(found, before, after, path)
