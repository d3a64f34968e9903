"""The command line: parse, call, print. No arithmetic, and nothing heavy imported until a command runs.

Exit status: 0 done, 2 wrong usage, 3 at least one photograph refused (the others are done).
"""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from defectmap import __version__
from defectmap.commands.lazy import LazyCommand, LazyGroup
from defectmap.errors import DefectmapError
from defectmap.outputs import overwriting

OVERWRITE = "--overwrite"

MANY = (
    "--before",
    "--after",
    "--unwiped",
    "--px-per-mm",
    "--field-width-mm",
)  # options of `compare` that take several values
# Commands that live elsewhere, listed here so that `--help` need not import them.
LAZY_COMMANDS = {
    name: LazyCommand(
        module=f"defectmap.commands.{module}",
        attribute=attribute,
        help=words,
        many=MANY if name == "compare" else (),
    )
    for name, module, attribute, words in (
        ("compare", "compare", "compare", "Compare before and after: change in percent, or why not."),
        ("repeat", "compare", "repeat", "Say how well figures repeat over photographs of one panel."),
        ("guide", "print_guide", "guide", "Write the capture guide: one sheet to print, with cautions."),
        ("job", "job", "app", "Keep the job record: panels, stages, photographs, steps."),
        ("vehicle", "vehicle", "app", "Keep vehicles over their lives: visits, thickness, whose they are."),
        ("care", "care", "app", "Care dates: kept, listed by day, written as a calendar file."),
        ("report", "report", "report", "Write the report of a job: page, PDF, table, claims, picture."),
        ("app", "open_pages", "app", "Open the pages in the browser."),
    )
}


class _Commands(LazyGroup):
    """The command group: commands of other modules on demand, and one place where our errors end."""

    lazy = LAZY_COMMANDS

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Take an option of the program from wherever it stands, so that no command need know it."""
        if OVERWRITE in args:
            args = [OVERWRITE, *(arg for arg in args if arg != OVERWRITE)]
        return super().parse_args(ctx, args)

    def invoke(self, ctx: Any) -> Any:
        """Run the command; an error that a person can put right becomes one sentence and an exit status."""
        from defectmap.commands.safe_words import safe

        try:
            with overwriting(bool(ctx.params.get("overwrite"))):
                return super().invoke(ctx)
        except DefectmapError as error:
            typer.echo(f"Error: {safe(error)}", err=True)
            raise typer.Exit(error.exit_code) from None


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    pretty_exceptions_show_locals=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Photos = Annotated[
    list[Path],
    typer.Argument(metavar="PHOTO", help="Photographs or films of panels; a folder stands for those in it."),
]
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


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"defectmap {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version.")
    ] = False,
    overwrite: Annotated[
        bool,
        typer.Option(
            OVERWRITE, help="Let results replace files that defectmap did not write; stands anywhere."
        ),
    ] = False,
) -> None:
    """Measure swirl marks, scratches and haze in photographs of car paint under one lamp."""


@app.command()
def measure(
    photos: Photos,
    px_per_mm: PxPerMm = None,
    field_width_mm: FieldWidthMm = None,
    json_file: JsonFile = None,
    zone: Annotated[
        Path | None,
        typer.Option(
            "--zone", metavar="FILE.png", help="Write the mask of where marks count; a folder for several."
        ),
    ] = None,
    overlay: Annotated[
        Path | None,
        typer.Option(
            "--overlay", metavar="FILE.png", help="Write the photo with its marks; a folder for several."
        ),
    ] = None,
    jobs: Annotated[
        int, typer.Option("--jobs", metavar="N", min=0, help="Measure N at a time; 0 for one a core.")
    ] = 1,
    cluster: Annotated[
        str | None,
        typer.Option("--cluster", metavar="ADDRESS", help="Measure on the workers of this Dask scheduler."),
    ] = None,
    moved_lamp: Annotated[
        bool,
        typer.Option(
            "--moved-lamp", help="All photographs show one spot with the lamp moved: measure them as one."
        ),
    ] = False,
) -> None:
    """Measure photographs and films: marks, lengths, haze, score.

    Densities are in mm of mark for each cm² of panel that the light let us judge; the score is out of 100.

    Without a scale the printed card in the picture gives it; with no card, lengths are in pixels and every
    output says uncalibrated.

    A film (mp4, mov) of one spot while the lamp is moved is one measurement of all its lamp places.

    With several photographs --json holds an array; --zone and --overlay name a folder, or a file whose name
    gets the photograph's name before its ending.
    """
    from defectmap.commands.measure_photos import MeasureOptions, run_measure

    options = MeasureOptions(
        px_per_mm=px_per_mm,
        field_width_mm=field_width_mm,
        json_file=json_file,
        zone=zone,
        overlay=overlay,
        jobs=jobs,
        cluster=cluster,
        moved_lamp=moved_lamp,
    )
    raise typer.Exit(run_measure(photos, options))


@app.command()
def demo(
    out: Annotated[
        Path, typer.Option("--out", metavar="FOLDER", help="Where records and overlays are written.")
    ] = Path("demo-out"),
    samples: Annotated[
        Path | None,
        typer.Option("--samples", metavar="FOLDER", help="The sample job, where it is not found by itself."),
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Do not open the result in the browser.")
    ] = False,
) -> None:
    """Measure the sample job, before and after, and open it in the pages."""
    from defectmap.commands.show_demo import RECORD, run_demo

    status, job = run_demo(out=out, samples=samples)
    if not no_browser and sys.stdout.isatty():
        from defectmap.pages.launch import Start, serve

        serve(Start(record=out / RECORD, job=job))
    raise typer.Exit(status)


@app.command()
def card(
    out: Annotated[Path, typer.Option("--out", metavar="FILE.pdf", help="Where the card is written.")] = Path(
        "card.pdf"
    ),
    paper: Annotated[str, typer.Option("--paper", metavar="a4|letter", help="Size of the paper.")] = "a4",
) -> None:
    """Write the scale card, as PDF to print.

    Print at 100 %, check the ruler, lay it beside the marks and tape it; never slide it on paint.
    """
    from defectmap.panel.card import write_card

    sheets: dict[str, Literal["A4", "Letter"]] = {"a4": "A4", "letter": "Letter"}
    if paper.lower() not in sheets:
        raise typer.BadParameter(f"{paper!r} is neither a4 nor letter.", param_hint="--paper")
    write_card(out, paper=sheets[paper.lower()])
    typer.echo(f"Wrote {out}. Print it at 100 % and check its ruler against a real one.")


def main() -> None:
    """Entry point of the `defectmap` program."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old console that lacks "²" must not stop the work
    app()
