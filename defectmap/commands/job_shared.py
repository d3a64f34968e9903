"""What the job commands share: where the record is, and arguments that several of them take."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from defectmap.commands.printing import say

if TYPE_CHECKING:
    from defectmap.record.store import Store

ALL = "all"  # panels
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
    str | None, typer.Option("--database", metavar="URL", help="PostgreSQL database shared by several bays.")
]
BeforeStage = Annotated[
    str, typer.Option("--before", metavar="STAGE", help="Stage of the first photographs.")
]
AfterStage = Annotated[str, typer.Option("--after", metavar="STAGE", help="Stage of the second.")]
PanelOption = Annotated[str | None, typer.Option("--panel", metavar="NAME", help="Only this panel.")]
Setup = Annotated[
    str | None, typer.Option("--setup", metavar="NAME", help="Set-up whose repeatability is known.")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Folder and database of the record; None is the default."""

    folder: str | None
    url: str | None


def record_group(words: str) -> typer.Typer:
    """A group of commands about a record, with the options in front that say which."""
    app = typer.Typer(
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_show_locals=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )

    @app.callback(help=words)
    def options(ctx: typer.Context, record: RecordFolder = None, database: RecordDatabase = None) -> None:
        ctx.obj = Where(folder=record, url=database)

    return app


@contextmanager
def record(ctx: typer.Context) -> Iterator[Store]:
    """Open the record that the options in front of the command name, and close it."""
    from defectmap.record.store import open_store

    place = ctx.obj if isinstance(ctx.obj, Where) else Where(folder=None, url=None)
    store = open_store(place.folder, url=place.url)
    try:
        yield store
    finally:
        store.close()


def day_of(words: str | None) -> date | None:
    """The day that was typed, if one was.

    Raises
    ------
    JobError
        It is no day.
    """
    from defectmap.record.rows import checked_day

    return None if words is None else date.fromisoformat(checked_day(words))


def known(**given: Any) -> dict[str, Any]:
    """What was given of some options.

    Examples
    --------
    >>> known(name="bay 2", unit=None)
    {'name': 'bay 2'}
    """
    return {key: value for key, value in given.items() if value is not None}


def warn(sentences: Sequence[str]) -> None:
    """Print what is worth a look, beside the result."""
    for sentence in sentences:
        say(f"Note: {sentence}", error=True)
