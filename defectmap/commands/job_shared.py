"""What the job commands share: where the record is, and arguments that several of them take."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from defectmap.record.store import Store

REFUSED = 3
Job = Annotated[str, typer.Argument(metavar="JOB", help="The job's reference.")]
Panel = Annotated[str, typer.Argument(metavar="PANEL", help="Name of the panel.")]
Json = Annotated[
    Path | None, typer.Option("--json", metavar="FILE", help="Write it as JSON; - is standard output.")
]
RecordFolder = Annotated[
    str | None,
    typer.Option(
        "--record",
        metavar="FOLDER",
        help="Folder of the record, or the URL of an object store (default: your data folder).",
    ),
]
RecordDatabase = Annotated[
    str | None,
    typer.Option("--database", metavar="URL", help="PostgreSQL database shared by several bays."),
]
PanelOption = Annotated[str | None, typer.Option("--panel", metavar="NAME", help="Only this panel.")]
Setup = Annotated[
    str | None, typer.Option("--setup", metavar="NAME", help="Set-up whose repeatability is known.")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Folder and database of the record; None is the default."""

    folder: str | None
    url: str | None


def where(ctx: typer.Context) -> Where:
    """The record that the options in front of the command name."""
    return ctx.obj if isinstance(ctx.obj, Where) else Where(folder=None, url=None)


@contextmanager
def record(of: Where | typer.Context) -> Iterator[Store]:
    """Open the record that the options name, and close it."""
    from defectmap.record.store import open_store

    place = of if isinstance(of, Where) else where(of)
    store = open_store(place.folder, url=place.url)
    try:
        yield store
    finally:
        store.close()
