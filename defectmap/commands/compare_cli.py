"""`defectmap compare` and `defectmap repeat`: parse and call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

PxPerMm = Annotated[
    float | None, typer.Option("--px-per-mm", metavar="N", help="Scale: pixels for one millimetre of panel.")
]
FieldWidthMm = Annotated[
    float | None,
    typer.Option(
        "--field-width-mm", metavar="W", help="Scale: millimetres of panel across the whole picture."
    ),
]
JsonFile = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", help="Write the record as JSON; - is standard output."),
]
STAGE_HELP = "as received, washed, decontaminated, test spot, corrected, wiped, filled or protected."


def compare(
    before: Annotated[
        list[Path], typer.Option("--before", metavar="PHOTO…", help="Photographs before, one for each spot.")
    ],
    after: Annotated[
        list[Path], typer.Option("--after", metavar="PHOTO…", help="The same spots after, in the same order.")
    ],
    px_per_mm: PxPerMm = None,
    field_width_mm: FieldWidthMm = None,
    before_stage: Annotated[
        str | None,
        typer.Option("--before-stage", metavar="STAGE", help=f"When before was: {STAGE_HELP}"),
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
        Path | None,
        typer.Option("--report", metavar="FILE", help="Write a report, .html or .pdf."),
    ] = None,
    crops: Annotated[
        Path | None,
        typer.Option(
            "--crops", metavar="FOLDER", help="Write side-by-side pictures of the same millimetres."
        ),
    ] = None,
) -> None:
    """Compare photographs before and after: change in percent with its 95 % interval, or why there is none.

    Photograph the same spot with the same lamp, camera, distance and exposure. Marks are said to be removed
    only where the after photographs were taken after a solvent wipe and before any filler or protection.
    """
    from defectmap.commands.compare_photos import CompareOptions, run_compare

    options = CompareOptions(
        px_per_mm=px_per_mm,
        field_width_mm=field_width_mm,
        before_stage=before_stage,
        after_stage=after_stage,
        unwiped=tuple(unwiped or ()),
        setup=setup,
        json_file=json_file,
        report=report,
        crops=crops,
    )
    raise typer.Exit(run_compare(before, after, options))


def repeat(
    photos: Annotated[
        list[Path], typer.Argument(metavar="PHOTO…", help="Three or more photographs of one spot.")
    ],
    px_per_mm: PxPerMm = None,
    field_width_mm: FieldWidthMm = None,
    setup: Annotated[
        str, typer.Option("--setup", metavar="NAME", help="Name under which the set-up is kept.")
    ] = "default",
    json_file: JsonFile = None,
    no_save: Annotated[bool, typer.Option("--no-save", help="Only report, keep nothing.")] = False,
) -> None:
    """Say how well the figures repeat, and the smallest change that this set-up can prove.

    Photograph one spot five times or more, setting camera and lamp up again each time. The
    figures are kept as the set-up's profile and used by `compare`.
    """
    from defectmap.commands.compare_photos import RepeatOptions, run_repeat

    options = RepeatOptions(
        px_per_mm=px_per_mm,
        field_width_mm=field_width_mm,
        setup=setup,
        json_file=json_file,
        save=not no_save,
    )
    raise typer.Exit(run_repeat(photos, options))
