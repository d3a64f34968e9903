"""Consoles and progress bars that behave in a pipe: no folding of tables, no bar."""

from __future__ import annotations

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

# In a pipe there is no window to fit: wide enough that no table is folded.
PIPE_WIDTH = 160


def progress_bar() -> Progress:
    """Return a bar on standard error; it shows nothing where that is not a terminal."""
    screen = console(stderr=True)
    return Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
        disable=not screen.is_terminal,
    )


def console(*, stderr: bool = False) -> Console:
    """Return a console that does not fold tables where no window limits it."""
    screen = Console(stderr=stderr)
    return screen if screen.is_terminal else Console(stderr=stderr, width=PIPE_WIDTH)
