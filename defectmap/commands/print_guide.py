"""`defectmap guide`: parse and call."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from defectmap.panel.card import Paper

SHEETS: dict[str, Paper] = {"a4": "A4", "letter": "Letter"}


def guide(
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE.pdf", help="Where the guide is written.")
    ] = Path("guide.pdf"),
    paper: Annotated[str, typer.Option("--paper", metavar="a4|letter", help="Size of the paper.")] = "a4",
) -> None:
    """Write the capture guide, as PDF to print: one sheet, two sides.

    Lamp, distance, angle, exposure, how many spots, which stages, and the cautions.
    """
    from defectmap.report.guide_sheet import write_guide

    if paper.lower() not in SHEETS:
        raise typer.BadParameter(f"{paper!r} is neither a4 nor letter.", param_hint="--paper")
    write_guide(out, paper=SHEETS[paper.lower()])
    typer.echo(f"Wrote {out}. Print it on both sides of one sheet.")
