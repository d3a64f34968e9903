"""`defectmap guide`: parse and call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from defectmap.words.style import Paper, Style
from defectmap.words.translations import SOURCE, languages

SHEETS: dict[str, Paper] = {"a4": "A4", "letter": "Letter"}


def guide(
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE.pdf", help="Where the guide is written.")
    ] = Path("guide.pdf"),
    paper: Annotated[str, typer.Option("--paper", metavar="a4|letter", help="Size of the paper.")] = "a4",
    language: Annotated[
        str, typer.Option("--language", metavar="CODE", help="Language of the guide: en or de.")
    ] = SOURCE,
) -> None:
    """Write the capture guide, as PDF to print: one sheet, two sides.

    Lamp, distance, angle, exposure, how many spots, which stages, and the cautions.
    """
    from defectmap.report.guide_sheet import write_guide

    if paper.lower() not in SHEETS:
        raise typer.BadParameter(f"{paper!r} is neither a4 nor letter.", param_hint="--paper")
    if language not in languages():
        raise typer.BadParameter(
            f"{language!r} is not one of: {', '.join(languages())}.", param_hint="--language"
        )
    write_guide(out, style=Style(paper=SHEETS[paper.lower()], language=language))
    typer.echo(f"Wrote {out}. Print it on both sides of one sheet.")
