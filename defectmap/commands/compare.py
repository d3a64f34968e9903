"""`defectmap compare` and `defectmap repeat`: read, measure, compare, print, write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, cast

import typer

from defectmap.commands.compare_films import FilmPair, run_compare_films
from defectmap.commands.compare_table import print_comparison, print_setup
from defectmap.commands.printing import REFUSED, STANDARD_OUTPUT, say_refused, write_record
from defectmap.commands.program import JsonFile
from defectmap.commands.terminal import console, progress_bar
from defectmap.commands.typed_scales import FieldWidthMmEach, PhotoScale, PxPerMmEach, typed_scales
from defectmap.comparison.compare import Shot, align_shots, compare_shots, measured_shot
from defectmap.comparison.contract import comparison_record, refused_record
from defectmap.comparison.outcome import Comparison
from defectmap.comparison.repeating import repeat_profile
from defectmap.comparison.setup_contract import setup_record
from defectmap.comparison.setup_profile import find_profile, save_profile
from defectmap.comparison.tuning import MIN_SHOTS
from defectmap.errors import PhotoError
from defectmap.film.reading import is_film
from defectmap.outputs import OutputError, check_outputs, find_photos, write_file
from defectmap.panel.codec import Record, measurement_record, refusal_record
from defectmap.panel.photo import photograph as photo
from defectmap.pictures.crops import Centre, crop_pair, side_by_side
from defectmap.pictures.files import picture_file
from defectmap.report.fromcomparisons import ComparedPanel, report_from_comparisons
from defectmap.report.writing import write_report
from defectmap.trade.stages import stage_named

PLACE = "Place compared"  # what the report calls it: files have no panel's name
CENTRES: tuple[Centre, ...] = ("hotspot", "worst scratch")
STAGE_HELP = (
    "as received, washed, decontaminated, test spot, corrected, wiped, filled, protected or follow up."
)


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


def compare(
    before: Annotated[
        list[Path], typer.Option("--before", metavar="PHOTO…", help="Photographs before, one for each spot.")
    ],
    after: Annotated[
        list[Path], typer.Option("--after", metavar="PHOTO…", help="The same spots after, in the same order.")
    ],
    px_per_mm: PxPerMmEach = None,
    field_width_mm: FieldWidthMmEach = None,
    before_stage: Annotated[
        str | None, typer.Option("--before-stage", metavar="STAGE", help=f"When before was: {STAGE_HELP}")
    ] = None,
    after_stage: Annotated[
        str | None, typer.Option("--after-stage", metavar="STAGE", help=f"When after was: {STAGE_HELP}")
    ] = None,
    unwiped: Annotated[
        list[Path] | None,
        typer.Option(
            "--unwiped", metavar="PHOTO…", help="The same spots after correction and before the solvent wipe."
        ),
    ] = None,
    setup: Annotated[
        str | None,
        typer.Option("--setup", metavar="NAME", help="Set-up whose repeatability is used, see `repeat`."),
    ] = None,
    json_file: JsonFile = None,
    report: Annotated[
        Path | None, typer.Option("--report", metavar="FILE", help="Write a report, .html or .pdf.")
    ] = None,
    crops: Annotated[
        Path | None,
        typer.Option(
            "--crops", metavar="FOLDER", help="Write side-by-side pictures of the same millimetres."
        ),
    ] = None,
) -> None:
    """Compare before and after: change in percent with its 95 % interval, or why there is none.

    Photograph the same spot with the same lamp, camera, distance and exposure. Marks are said to be removed
    only where the after photographs were taken after a solvent wipe and before any filler or protection.

    A film of a moved lamp is compared with a film; then --crops writes the light of all lamp places.
    """
    stages = (
        None if before_stage is None else stage_named(before_stage),
        None if after_stage is None else stage_named(after_stage),
    )
    profile = find_profile(setup)
    sides = [find_photos(paths) for paths in (before, after, unwiped) if paths]
    everything = [path for side in sides for path in side]
    _check_targets(report, json_file, everything)
    scales = typed_scales(everything, px_per_mm, field_width_mm)
    if any(is_film(path) for path in everything):
        asked = FilmPair(scales=scales, stages=stages, json_file=json_file, crops=crops, report=report)
        raise typer.Exit(run_compare_films(sides[0], sides[1], asked))
    read = _read_all(scales)
    parts = [[read[path] for path in side] for side in sides]
    refused = [one for one in read.values() if one.refusal]
    if refused:
        _print_refused(refused)
        write_record(refused_record(*([one.record for one in part] for part in parts[:2])), json_file)
        raise typer.Exit(REFUSED)
    shots = [[cast(Shot, one.shot) for one in part] for part in parts]
    found = compare_shots(
        shots[0],
        shots[1],
        unwiped=shots[2] if len(shots) > 2 else (),
        before_stage=stages[0],
        after_stage=stages[1],
        setup=profile,
    )
    write_record(comparison_record(found), json_file)
    if crops:
        write_crops(shots[0], shots[1], found, crops)
    if report:
        panel = ComparedPanel(name=PLACE, found=found, before=shots[0], after=shots[1])
        made = report_from_comparisons([panel], made_on=date.today().isoformat())
        write_report(made, report, audience="full")  # whoever compares files by hand wants every figure
    print_comparison(console(stderr=json_file == STANDARD_OUTPUT), found)


def repeat(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO…", help="Three or more photographs of one spot.")
    ],
    px_per_mm: PxPerMmEach = None,
    field_width_mm: FieldWidthMmEach = None,
    setup: Annotated[
        str, typer.Option("--setup", metavar="NAME", help="Name under which the set-up is kept.")
    ] = "default",
    json_file: JsonFile = None,
    no_save: Annotated[bool, typer.Option("--no-save", help="Only report, keep nothing.")] = False,
) -> None:
    """Say how well the figures repeat, and the smallest change that this set-up can prove.

    Photograph one spot five times or more, setting camera and lamp up again each time. The
    figures are kept as the set-up's profile and used by `compare`. Photographs of several phones
    tell the reproducibility beside the repeatability (ISO 5725); give each its own scale.
    """
    paths = find_photos(photos)
    if len(paths) < MIN_SHOTS:
        raise OutputError(f"Give at least {MIN_SHOTS} photographs of one spot, five are better.")
    read = _read_all(typed_scales(paths, px_per_mm, field_width_mm))
    refused = [one for one in read.values() if one.refusal]
    _print_refused(refused)
    held = [one.shot for one in (read[path] for path in paths) if one.shot is not None]
    if len(held) < MIN_SHOTS:
        raise typer.Exit(REFUSED)
    poses = [align_shots(held[0], shot) for shot in held[1:]]
    profile = repeat_profile([shot.measured for shot in held], poses, name=setup)
    write_record(setup_record(profile), json_file)
    screen = console(stderr=json_file == STANDARD_OUTPUT)
    print_setup(screen, profile)
    if not no_save:
        path = save_profile(profile)
        screen.print(f"Kept as set-up '{profile.name}' in {path}.", markup=False, highlight=False)
    raise typer.Exit(REFUSED if refused else 0)


def write_crops(before: Sequence[Shot], after: Sequence[Shot], found: Comparison, folder: Path) -> list[Path]:
    """Write side-by-side pictures of every spot, about the hotspot and about the worst scratch."""
    written = []
    for number, (one, other, spot) in enumerate(zip(before, after, found.spots, strict=True), start=1):
        for centre in CENTRES:
            pair = crop_pair(one.photo, other.photo, spot, centre=centre)
            path = folder / f"spot{number}-{centre.replace(' ', '-')}.png"
            write_file(path, picture_file(side_by_side(pair), "PNG"))
            written.append(path)
    return written


def _check_targets(report: Path | None, json_file: Path | None, photos: Sequence[Path]) -> None:
    if report and report.suffix.lower() not in (".html", ".pdf"):
        raise OutputError(f"--report {report} must end in .html or .pdf.")
    check_outputs([path for path in (json_file, report) if path and path != STANDARD_OUTPUT], photos)


def _read_all(scales: Mapping[Path, PhotoScale]) -> dict[Path, _Read]:
    """Load and measure each file once, a refusal stopping none of the others."""
    read: dict[Path, _Read] = {}
    with progress_bar() as progress:
        task = progress.add_task("measuring", total=len(scales))
        for path, scale in scales.items():
            progress.update(task, description=f"measuring {path.name}")
            read[path] = _read(path, scale)
            progress.advance(task)
    return read


def _read(path: Path, scale: PhotoScale) -> _Read:
    try:
        shot = measured_shot(photo.load(path), px_per_mm=scale.px_per_mm, field_width_mm=scale.field_width_mm)
    except PhotoError as error:
        return _Read(path=path, shot=None, refusal=refusal_record(path.name, str(error)))
    return _Read(path=path, shot=shot, refusal=None)


def _print_refused(refused: Sequence[_Read]) -> None:
    for one in refused:
        say_refused(one.path.name, one.record["refused"])
