"""`defectmap compare` with films: one before, one after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from defectmap.commands.compare_table import print_comparison
from defectmap.commands.printing import REFUSED, STANDARD_OUTPUT, say, write_record
from defectmap.commands.terminal import console, film_progress, progress_bar
from defectmap.commands.typed_scales import PhotoScale
from defectmap.comparison.contract import comparison_record, refused_record
from defectmap.comparison.masking import Stage
from defectmap.errors import PhotoError
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.comparing import compare_films
from defectmap.film.measure_film import measure_film
from defectmap.film.reading import is_film
from defectmap.outputs import OutputError, write_file
from defectmap.panel.codec import Record, measurement_record, refusal_record
from defectmap.pictures.files import picture_file
from defectmap.pictures.film import fused_pair


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmPair:
    """What was asked for of two films."""

    scales: Mapping[Path, PhotoScale] = field(default_factory=dict)
    stages: tuple[Stage | None, Stage | None] = (None, None)
    json_file: Path | None = None
    crops: Path | None = None
    report: Path | None = None


def run_compare_films(before: Sequence[Path], after: Sequence[Path], options: FilmPair) -> int:
    """Measure and compare two films, write what was asked for, print; return the exit status.

    Raises
    ------
    OutputError
        There are more films than two, photographs among them, or a report was asked for.
    """
    _check(before, after, options)
    found: list[FilmMeasurement | Record] = []
    with progress_bar() as bar:
        for path in (before[0], after[0]):
            scale = options.scales.get(path, PhotoScale())
            try:
                found.append(
                    measure_film(
                        path,
                        px_per_mm=scale.px_per_mm,
                        field_width_mm=scale.field_width_mm,
                        progress=film_progress(bar),
                    )
                )
            except PhotoError as error:
                found.append(refusal_record(path.name, str(error)))
    one, other = found
    screen = console(stderr=options.json_file == STANDARD_OUTPUT)
    if not isinstance(one, FilmMeasurement) or not isinstance(other, FilmMeasurement):
        records = [measurement_record(f.panel) if isinstance(f, FilmMeasurement) else f for f in found]
        for record in records:
            if record["refused"]:
                say(f"Refused: {record['refused']}", error=options.json_file == STANDARD_OUTPUT)
        write_record(refused_record(records[:1], records[1:]), options.json_file)
        return REFUSED
    compared = compare_films(one, other, before_stage=options.stages[0], after_stage=options.stages[1])
    write_record(comparison_record(compared), options.json_file)
    if options.crops:
        _write_pair(one, other, options.crops)
    print_comparison(screen, compared)
    return 0


def _check(before: Sequence[Path], after: Sequence[Path], options: FilmPair) -> None:
    if not all(is_film(path) for path in (*before, *after)):
        raise OutputError("A film is compared with a film only; give two films, or two photographs.")
    if len(before) != 1 or len(after) != 1:
        raise OutputError("Give one film before and one after; compare other spots one by one.")
    if options.report:
        raise OutputError("--report is for photographs; films write --json and --crops.")


def _write_pair(before: FilmMeasurement, after: FilmMeasurement, folder: Path) -> None:
    """The fused light of both films, laid on each other: for the eye, and for a slider."""
    for name, picture in zip(("before", "after"), fused_pair(before, after), strict=True):
        write_file(folder / f"film-{name}.png", picture_file(picture, "PNG"))
