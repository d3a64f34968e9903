"""From the record to the printed page: one way down, no call back up, each kept result taken apart once."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

import defectmap
from defectmap.record import keeping, sealing
from defectmap.record.comparisons import comparisons_of
from defectmap.record.keeping import results_of
from defectmap.record.store import Store
from defectmap.report.fromjob import report_from_job
from defectmap.report.pdf import report_pdf
from tests.report.test_fromjob import store  # noqa: F401  (a fixture: one job, measured and compared)

ROOT = f"{Path(defectmap.__file__).parent}/"
# Low to high, as in pyproject.toml; what stands in the root is below all of them.
LAYERS = ("words", "panel", "comparison", "film", "pictures", "trade", "record", "report", "pages")
OF_PAGES = ("pages/report", "pages/reports")  # what comes before on the way from the button
MOST_MODULES = 10


def module_of(code: CodeType) -> str | None:
    file = code.co_filename
    return file.removeprefix(ROOT).removesuffix(".py") if file.startswith(ROOT) else None


def layer(module: str) -> int:
    part = module.split("/")[0]
    return LAYERS.index(part) if part in LAYERS else -1


@contextmanager
def calls_seen() -> Iterator[tuple[Counter[tuple[str, str]], list[tuple[str, ...]]]]:
    """Calls from one module into another, and the longest chain of modules one within another."""
    edges: Counter[tuple[str, str]] = Counter()
    longest: list[tuple[str, ...]] = [()]

    def look(frame: FrameType, event: str, _: Any) -> None:
        to = module_of(frame.f_code)
        if event != "call" or to is None or frame.f_code.co_name == "<module>":
            return
        chain: list[str] = []
        above: FrameType | None = frame
        while above is not None:
            name = module_of(above.f_code)
            if name is not None and name not in chain:
                chain.append(name)
            above = above.f_back
        if len(chain) > 1 and chain[0] == to:
            edges[chain[1], to] += 1
        if len(chain) > len(longest[0]):
            longest[0] = tuple(reversed(chain))

    sys.setprofile(look)
    try:
        yield edges, longest
    finally:
        sys.setprofile(None)


@pytest.fixture
def unpacked(monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """How many kept bodies were taken apart."""
    counted = 0
    whole = sealing.unpack

    def unpack(body: bytes) -> str:
        nonlocal counted
        counted += 1
        return whole(body)

    for name, module in list(sys.modules.items()):
        if name.startswith("defectmap.") and getattr(module, "unpack", None) is whole:
            monkeypatch.setattr(module, "unpack", unpack)
    return lambda: counted


@pytest.mark.parametrize("audience", ["customer", "full"])
def test_the_way_to_the_pdf_is_short_and_goes_down_only(store: Store, audience: Any) -> None:  # noqa: F811
    with calls_seen() as (edges, longest):
        report_pdf(report_from_job(store, "J1", made_on="2026-05-12"), audience=audience)
    assert sum(edges.values()) > 100
    upward = {f"{one} calls {other}" for one, other in edges if layer(other) > layer(one)}
    assert upward == set()
    assert len(longest[0]) + len(OF_PAGES) <= MOST_MODULES, longest[0]


def test_each_kept_result_is_taken_apart_once(store: Store, unpacked: Callable[[], int]) -> None:  # noqa: F811
    kept = len(results_of(store, "J1")) + len(comparisons_of(store, "J1"))
    keeping._OPENED.clear()
    before = unpacked()
    report_from_job(store, "J1", made_on="2026-05-12")
    assert unpacked() - before == kept
