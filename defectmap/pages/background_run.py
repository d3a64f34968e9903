"""Measuring goes on in the background, one run a job: pages look at how far it is, and nobody has to wait."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from defectmap.record.store import Store

LOOK_S = 0.2


@dataclass(slots=True)
class Run:
    """How far measuring is; written by its thread, read by pages."""

    total: int = 0
    done: int = 0
    what: str = ""
    compared: str = ""
    problems: list[str] = field(default_factory=list)
    thread: threading.Thread | None = None
    fault: BaseException | None = None

    @property
    def going(self) -> bool:
        """Whether it is still at work."""
        return self.thread is not None and self.thread.is_alive()


_RUNS: dict[tuple[str, str], Run] = {}
_LOCK = threading.Lock()


def run_of(store: Store, reference: str) -> Run | None:
    """The run of a job, going or over; None where there was none."""
    return _RUNS.get((str(store.folder), reference))


def start(store: Store, reference: str) -> Run:
    """Measure what a job has unmeasured, unless that is being done already."""
    with _LOCK:
        run = run_of(store, reference)
        if run is None or not run.going:
            run = Run()
            run.thread = threading.Thread(
                target=_measure, args=(store, reference, run), name="defectmap measuring", daemon=True
            )
            _RUNS[str(store.folder), reference] = run
            run.thread.start()
    return run


def wait_for(run: Run, *, tell: object = None) -> None:
    """Wait until a run is over, telling how far it is."""
    while run.going:
        if callable(tell):
            tell(run)
        time.sleep(LOOK_S)
    if run.fault is not None:
        raise run.fault


def _measure(store: Store, reference: str, run: Run) -> None:
    try:
        _measure_all(store, reference, run)
    except BaseException as fault:
        run.fault = fault


def _measure_all(store: Store, reference: str, run: Run) -> None:
    from defectmap.record.measuring import measure_job
    from defectmap.record.overview import overview
    from defectmap.record.results import compare_ready, ready_panels

    new: set[str] = set()
    while True:
        look = overview(store, reference)
        if not look.unmeasured:
            break
        before = run.done
        run.total = before + look.unmeasured
        new |= {p.history.panel.name for p in look.panels if any(one.unmeasured for one in p.stages)}

        def progress(done: int, total: int, what: str, before: int = before) -> None:
            del total
            run.done, run.what = before + done, what

        found = measure_job(store, reference, progress=progress)
        run.problems += found.failed
        if not found.measured + len(found.refused):
            break
    # Panels that are thereby there before and after are compared, so that nobody waits for it later. What
    # cannot be compared says so on the pages where it is asked for.
    ready = [name for name in ready_panels(overview(store, reference)) if name in new]
    for name in ready:
        run.compared = name
        compare_ready(store, reference, [name])
