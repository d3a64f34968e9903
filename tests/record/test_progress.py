"""What comes next on a panel, by what is done already."""

from __future__ import annotations

import pytest

from defectmap.record.progress import PARTS, PanelProgress, Part


@pytest.mark.parametrize(
    ("done", "following"),
    [
        ((), "wash"),
        (("wash",), "decontaminate"),
        (("wash", "decontaminate", "before"), "thickness"),
        (("before", "wipe", "after"), "protect"),  # the wash was never entered: nobody washes now
        (("wash", "decontaminate", "before", "correct"), "wipe"),
        (("before", "wipe", "after", "protect"), "wash"),  # at the end it says what was left out
        (PARTS, None),
    ],
)
def test_what_comes_next(done: tuple[Part, ...], following: Part | None) -> None:
    assert PanelProgress(done=frozenset(done), spots_before=0, spots_after=0).next == following
