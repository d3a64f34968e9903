"""A bar for each film of a job that is being measured, in whatever process."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from rich.progress import Progress, TaskID

from defectmap.record.filming import under_way
from defectmap.record.intake import photographs_of
from defectmap.record.measuring import request_of
from defectmap.record.store import Store
from defectmap.words.film_words import DOING

_LOOK_EVERY_S = 0.5


@contextmanager
def film_bar(bar: Progress, store: Store, reference: str) -> Iterator[None]:
    """While the block runs, show how far each film of the job is."""
    films = {
        one.name: request_of(store, one, {}).shelf for one in photographs_of(store, reference) if one.film
    }
    over = threading.Event()
    tasks: dict[str, TaskID] = {}

    def look() -> None:
        while not over.wait(_LOOK_EVERY_S):
            for name, place in films.items():
                found = under_way(place)
                if found is None:
                    if name in tasks:
                        bar.remove_task(tasks.pop(name))
                    continue
                words = f"{name}: {DOING.get(found.what, found.what)}"
                if name not in tasks:
                    tasks[name] = bar.add_task(words, total=found.whole)
                bar.update(tasks[name], description=words, completed=found.done, total=found.whole)

    watcher = threading.Thread(target=look, name="films under way", daemon=True)
    if films:
        watcher.start()
    try:
        yield
    finally:
        over.set()
        if films:
            watcher.join()
