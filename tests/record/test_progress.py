"""What comes next on a panel, by what is done already."""

from __future__ import annotations

import pytest

from defectmap.record.progress import PARTS, PanelProgress, Part


def test_too_few_spots_come_first_until_the_work_goes_on() -> None:
    one_spot = PanelProgress(done=frozenset({"wash", "before"}), spots_before=1, spots_after=0)
    assert one_spot.next == "before"
    enough = PanelProgress(done=frozenset({"wash", "before"}), spots_before=3, spots_after=0)
    assert enough.next == "thickness"
    corrected = PanelProgress(done=frozenset({"before", "correct"}), spots_before=1, spots_after=0)
    assert corrected.next == "wipe"


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
