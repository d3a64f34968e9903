"""Plain lines and tables; words from the record cannot drive the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import typer

from defectmap import __version__
from defectmap.commands.safe_words import safe
from defectmap.outputs import write_file
from defectmap.record.sealing import plain

REFUSED = 3  # exit status: at least one photograph was, the others are done
STANDARD_OUTPUT = Path("-")


def say(words: object, *, error: bool = False) -> None:
    """Print a line, on standard error for what is beside the result."""
    typer.echo(safe(words), err=error)


def table(headers: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Print rows under headers."""
    from rich.table import Table
    from rich.text import Text

    from defectmap.commands.terminal import console

    grid = Table(box=None, pad_edge=False)
    for header in headers:
        grid.add_column(header)
    for row in rows:
        # Text takes words as they are: brackets in a name are not markup.
        grid.add_row(*(Text("" if cell is None else safe(cell)) for cell in row))
    console().print(grid)


def number(value: float | None, places: int = 1) -> str:
    """A figure, or a dash where there is none."""
    return "–" if value is None else f"{value:.{places}f}"


def write_json(value: Any, file: Path | None) -> None:
    """Write a record as JSON, with the program's name; never over a file that was not written so before."""
    if file is None:
        return
    content = plain(value)
    for one in content if isinstance(content, list) else [content]:
        if isinstance(one, dict):
            one.setdefault("program", f"defectmap {__version__}")
    write_record(content, file)


def write_record(record: Any, file: Path | None) -> None:
    """Write what JSON can hold as it stands; to standard output in ASCII, whatever the console knows."""
    from defectmap.panel.codec import json_text

    if file == STANDARD_OUTPUT:
        typer.echo(json_text(record, ascii_only=True), nl=False)
    elif file is not None:
        write_file(file, json_text(record).encode())


def say_refused(name: str, reason: str, *, kind: str = "Refused") -> None:
    """Say on standard error why a photograph was refused, its name once."""
    say(f"{kind}: {reason if name in reason else f'{name}: {reason}'}", error=True)
