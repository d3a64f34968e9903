"""What the job commands share: where the record is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import typer


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Folder and database of the record; None is the default."""

    folder: Path | None
    url: str | None


def where(ctx: typer.Context) -> Where:
    """The record that the options in front of the command name."""
    return ctx.obj if isinstance(ctx.obj, Where) else Where(folder=None, url=None)
