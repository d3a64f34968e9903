"""What was agreed with the customer: checked, kept with what held before, said in words."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from defectmap.errors import ChangedMeanwhile, JobError
from defectmap.record.agreed import changed_target, check_target, read_target, stored_target, target_words
from defectmap.record.jobs import change_job, create_job, job_named
from defectmap.record.store import Store, open_store
from defectmap.record.transfer import export_job, import_job
from defectmap.trade.facts import Target

TWO = Target(density_mm_per_cm2=2.0, longest_scratch_mm=30.0)
figures = st.none() | st.floats(0.01, 1.0)
targets = st.builds(
    Target, density_mm_per_cm2=figures, haze=figures, trail_mm_per_cm2=figures, longest_scratch_mm=figures
)


@pytest.mark.parametrize(
    ("target", "words"),
    [
        (Target(density_mm_per_cm2=0.0), "density of marks.*above 0 and up to 200 mm/cm²"),
        (Target(density_mm_per_cm2=math.nan), "density of marks"),
        (Target(density_mm_per_cm2=2000.0), "2000 mm/cm² cannot be meant"),
        (Target(haze=1.5), "haze.*up to 1, or leave it empty"),
        (Target(longest_scratch_mm=-1.0), "longest scratch.*from 0 to 3000 mm"),
        (Target(trail_mm_per_cm2=math.inf), "buffer trails"),
    ],
)
def test_what_nobody_can_have_meant_is_refused(store: Store, target: Target, words: str) -> None:
    with pytest.raises(JobError, match=words):
        create_job(store, "J1", target=target)
    create_job(store, "J1")
    with pytest.raises(JobError, match=words):
        change_job(store, "J1", seen_version=1, target=target)
    assert job_named(store, "J1").target == Target()


def test_no_scratch_and_no_trails_at_all_can_be_agreed() -> None:
    none_left = Target(trail_mm_per_cm2=0.0, longest_scratch_mm=0.0)
    check_target(none_left)
    assert target_words(none_left) == "no scratch, no buffer trails"


@given(st.lists(targets, min_size=1, max_size=5))
def test_everything_that_was_ever_agreed_stays(agreed: list[Target]) -> None:
    stored = stored_target(agreed[0])
    for number, target in enumerate(agreed[1:]):
        stored = changed_target(stored, target, at=str(number))
    now, earlier = read_target(stored)
    said = [one for at, one in enumerate(agreed) if at == 0 or one != agreed[at - 1]]
    assert [*(one.target for one in earlier), now] == said
    assert [one.until for one in earlier] == sorted(one.until for one in earlier)


def test_records_of_earlier_versions_are_read() -> None:
    """As they were written before buffer trails could be agreed about: every figure, free ones as null."""
    stored = '{"density_mm_per_cm2":2.0,"haze":null,"longest_scratch_mm":30.0}'
    assert read_target(stored) == (TWO, ())


def test_a_change_is_kept_with_the_time_of_it_and_travels_with_the_job(store: Store, tmp_path: Path) -> None:
    create_job(store, "J1", target=TWO)
    change_job(store, "J1", seen_version=1, target=Target(haze=0.1))
    change_job(store, "J1", seen_version=2, colour="red")  # another change leaves the target alone
    job = job_named(store, "J1")
    assert (job.target, [one.target for one in job.earlier_targets]) == (Target(haze=0.1), [TWO])
    assert job.created_at < job.earlier_targets[0].until < job.changed_at
    with pytest.raises(ChangedMeanwhile, match="look at it again"):
        change_job(store, "J1", seen_version=1, target=TWO)
    other = open_store(tmp_path / "other")
    import_job(other, export_job(store, "J1", tmp_path / "j.zip"))
    there = job_named(other, "J1")
    other.close()
    assert (there.target, there.earlier_targets) == (job.target, job.earlier_targets)


def test_the_same_target_again_is_no_change() -> None:
    stored = stored_target(TWO)
    assert changed_target(stored, TWO, at="later") == stored
    assert set(json.loads(stored)) == {"density_mm_per_cm2", "longest_scratch_mm"}
