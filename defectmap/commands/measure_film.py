"""How far a film is, on a progress bar of its own."""

from __future__ import annotations

from rich.progress import Progress, TaskID

from defectmap.film.looking import Progress as FilmProgress


def film_progress(bar: Progress) -> FilmProgress:
    """What `measure_film` tells, shown on a bar that appears with the first film."""
    tasks: list[TaskID] = []

    def show(what: str, done: int, whole: int) -> None:
        if not tasks:
            tasks.append(bar.add_task(what, total=whole))
        bar.update(tasks[0], description=what, completed=done, total=whole)

    return show
