"""Two steps at a time, or one where the process is held to one thread."""

import threading
from collections.abc import Iterator

import cv2
import pytest

from defectmap.panel.threads import both, in_pairs


@pytest.fixture
def one_thread() -> Iterator[None]:
    before = cv2.getNumThreads()
    cv2.setNumThreads(1)
    yield
    cv2.setNumThreads(before)


@pytest.fixture
def two_threads() -> Iterator[None]:
    before = cv2.getNumThreads()
    cv2.setNumThreads(2)
    yield
    cv2.setNumThreads(before)


def names() -> list[str]:
    """Names of the threads that four parts and two steps were done in."""
    done = in_pairs(lambda _: threading.current_thread().name, range(4))
    return [*done, *both(lambda: "", lambda: threading.current_thread().name)[1:]]


def test_a_process_held_to_one_thread_opens_no_other(one_thread: None) -> None:
    assert set(names()) == {threading.current_thread().name}


def test_two_steps_run_beside_each_other(two_threads: None) -> None:
    meeting = threading.Barrier(
        2, timeout=5.0
    )  # each waits for the other: one after the other would never end
    assert sorted(both(meeting.wait, meeting.wait)) == [0, 1]
    assert sorted(in_pairs(lambda _: meeting.wait(), range(2))) == [0, 1]


@pytest.mark.parametrize("held", ["one_thread", "two_threads"])
def test_order_is_kept_and_errors_come_through(held: str, request: pytest.FixtureRequest) -> None:
    request.getfixturevalue(held)
    assert in_pairs(lambda part: 10 * part, range(9)) == [10 * part for part in range(9)]
    assert both(lambda: 1, lambda: "two") == (1, "two")
    with pytest.raises(ZeroDivisionError):
        in_pairs(lambda part: 1 / part, (1, 0, 2))
    with pytest.raises(ZeroDivisionError):
        both(lambda: 1, lambda: 1 / 0)
