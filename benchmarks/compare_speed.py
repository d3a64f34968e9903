"""Time of comparing two 12-megapixel photographs against measuring one; checks the answer too.

    python benchmarks/compare_speed.py

Processor seconds of this process are what counts (a shared machine's clock says little); peak memory is the
process's.
"""

from __future__ import annotations

import resource
import sys
import time

from defectmap.comparison.compare import compare
from defectmap.panel.measure import measure
from tests import phantom

LIMIT = 3.0


def photograph(grooves: tuple[phantom.Groove, ...], seed: int, offset_mm: tuple[float, float]) -> bytes:
    """A 4000 by 3000 px JPEG."""
    shot = phantom.Shot(size_px=(3000, 4000), px_per_mm=40.0, seed=seed, offset_mm=offset_mm)
    data = phantom.photograph(grooves, shot, panel=phantom.Panel(seed=1)).jpeg
    assert data is not None
    return data


def main() -> None:
    """Print both times, their ratio and the answer."""
    swirled = phantom.swirls(1, density_mm_per_cm2=40)
    left = phantom.polished(swirled, seed=2, keep_share=0.4)
    before, after = photograph(swirled, 1, (0.0, 0.0)), photograph(left, 2, (2.0, -1.0))
    measure(before, px_per_mm=40.0)  # imports and caches
    start, clock = time.process_time(), time.perf_counter()
    measure(before, px_per_mm=40.0)
    one, one_clock = time.process_time() - start, time.perf_counter() - clock
    start, clock = time.process_time(), time.perf_counter()
    found = compare(before, after, px_per_mm=40.0)
    both, both_clock = time.process_time() - start, time.perf_counter() - clock
    change = found.change("density all")
    print(f"measuring one: {one:.2f} s of processor, {one_clock:.2f} s by the clock")
    print(
        f"comparing two: {both:.2f} s of processor, {both_clock:.2f} s by the clock: {both / one:.2f} times"
    )
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f} GB")
    print(
        f"verdict {found.comparable.verdict}, change {change.change_percent:.1f} %, "
        f"interval {change.ci95_percent}"
    )
    assert change.ci95_percent is not None
    assert change.ci95_percent[0] < -60 < change.ci95_percent[1], (
        "the true change, -60 %, is outside the interval"
    )
    sys.exit(both > LIMIT * one)


if __name__ == "__main__":
    main()
