"""`defectmap job style`: how the shop writes, once for every screen and paper."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from defectmap.commands.job_shared import known, record
from defectmap.commands.printing import table
from defectmap.record.shop_style import change_style, keep_mark, mark_from, shop_mark


def style(
    ctx: typer.Context,
    language: Annotated[str | None, typer.Option(metavar="CODE", help="en, de.")] = None,
    paper: Annotated[str | None, typer.Option(metavar="SIZE", help="A4 or Letter.")] = None,
    length: Annotated[str | None, typer.Option(metavar="UNIT", help="mm or inch.")] = None,
    unit: Annotated[str | None, typer.Option(metavar="UNIT", help="Of film thickness: um or mil.")] = None,
    currency: Annotated[str | None, typer.Option(metavar="CODE", help="As EUR, USD or GBP.")] = None,
    dates: Annotated[
        str | None, typer.Option(metavar="STYLE", help="'year first', 'day first' or 'month first'.")
    ] = None,
    time_zone: Annotated[
        str | None, typer.Option(metavar="ZONE", help="As Europe/Berlin (default: that of this computer).")
    ] = None,
    mark: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The shop's own picture, for the head of papers.")
    ] = None,
    no_mark: Annotated[bool, typer.Option("--no-mark", help="Take that picture away.")] = False,
) -> None:
    """Show or change how the shop writes: language, units, dates, money, paper, its own mark."""
    asked = known(
        language=language,
        paper=paper,
        length=length,
        unit=unit,
        currency=currency,
        dates=dates,
        time_zone=time_zone,
    )
    picture = None if mark is None else mark_from(mark)
    with record(ctx) as store:
        found = change_style(store, asked)
        if picture is not None or no_mark:
            keep_mark(store, picture)
        kept = "none" if shop_mark(store) is None else "kept"
        table(("style", ""), [*asdict(found).items(), ("mark", kept)])
