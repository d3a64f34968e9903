"""Consoles and progress bars that behave in a pipe: no folding of tables, no bar."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, Task, TaskID, TextColumn, TimeElapsedColumn
from rich.text import Text

from defectmap.commands.safe_words import safe

if TYPE_CHECKING:
    from defectmap.film.looking import FilmProgress
    from defectmap.record.measuring import Progress as Told

# In a pipe there is no window to fit: wide enough that no table is folded.
PIPE_WIDTH = 160


def progress_bar() -> Progress:
    """Return a bar on standard error; it shows nothing where that is not a terminal."""
    screen = console(stderr=True)
    return Progress(
        _Words(""),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
        disable=not screen.is_terminal,
    )


def console(*, stderr: bool = False) -> Console:
    """Return a console that does not fold tables where no window limits it."""
    screen = _SafeConsole(stderr=stderr)
    return screen if screen.is_terminal else _SafeConsole(stderr=stderr, width=PIPE_WIDTH)


def measuring(bar: Progress, words: str = "measuring") -> Told:
    """A line of the bar for photographs that are measured, and what is to be told after each."""
    task = bar.add_task(words, total=None)

    def progress(done: int, total: int, what: str) -> None:
        bar.update(task, completed=done, total=total, description=f"measuring {what}")

    return progress


def film_progress(bar: Progress) -> FilmProgress:
    """What `measure_film` tells, shown on a bar that appears with the first film."""
    tasks: list[TaskID] = []

    def show(what: str, done: int, whole: int) -> None:
        if not tasks:
            tasks.append(bar.add_task(what, total=whole))
        bar.update(tasks[0], description=what, completed=done, total=whole)

    return show


class _SafeConsole(Console):
    """A console on which words cannot act: a file's name may hold what a terminal would obey."""

    def print(self, *objects: Any, **options: Any) -> None:
        """Print, with control characters in plain words shown as text."""
        super().print(*(safe(one) if isinstance(one, str) else one for one in objects), **options)


class _Words(TextColumn):
    """What is being done, as text."""

    def render(self, task: Task) -> Text:
        """The words of the task, with control characters shown."""
        return Text(safe(task.description))
