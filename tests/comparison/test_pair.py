"""One spot before and after: what is said of a change that the strength of all marks explains."""

import math
from dataclasses import replace

import pytest

from benchmarks.compare_processing import processed
from defectmap.comparison.compare import Shot, compare_shots, measured_shot
from defectmap.comparison.outcome import Change
from defectmap.comparison.pair import evenly_changed
from defectmap.panel.photo.photograph import load
from tests import phantom

FEWER = Change(
    figure="density all",
    before=10.0,
    after=8.0,
    change_percent=-20.0,
    ci95_percent=(-30.0, -9.0),
    distinguishable=True,
)


@pytest.mark.parametrize(
    ("marks", "told"), [(math.log(0.8), True), (math.log(0.92), False), (0.0, False), (math.log(1.25), False)]
)
def test_marks_weaker_alike_may_be_the_lamp_or_a_light_polish(marks: float, told: bool) -> None:
    said = list(evenly_changed([FEWER], marks))
    assert [(one.code, one.verdict) for one in said] == ([("marks alike", "with care")] if told else [])


def test_no_change_needs_no_explanation() -> None:
    assert not list(evenly_changed([replace(FEWER, distinguishable=False)], math.log(0.8)))


@pytest.mark.slow
def test_turned_round_a_comparison_says_the_reciprocal() -> None:
    """One side smoothed hard, so that what its marks lost is given back, whichever side that is."""
    first, second = (_shot(seed, smoothed=bool(seed)) for seed in (0, 1))
    there, back = (compare_shots([one], [other]) for one, other in ((first, second), (second, first)))
    ratios = []
    for found in (there, back):
        assert "smoothed" in [reason.code for reason in found.comparable.reasons]
        change = found.change("density all").change_percent
        assert change is not None
        ratios.append(1 + change / 100)
    assert ratios[0] * ratios[1] == pytest.approx(1, abs=0.02)
    assert ratios[0] != pytest.approx(1, abs=0.02)  # or there is nothing to turn round


@pytest.mark.slow
def test_what_smoothing_took_from_the_marks_is_given_back_to_the_density(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first, second = (_shot(seed, smoothed=bool(seed)) for seed in (0, 1))
    given_back = compare_shots([first], [second]).change("density all").change_percent
    monkeypatch.setattr("defectmap.comparison.pair.SEEN_SHARE", 0.0)
    left = compare_shots([first], [second]).change("density all").change_percent
    assert given_back is not None
    assert left is not None
    assert left < given_back - 1  # both photographs show one paint


def _shot(seed: int, *, smoothed: bool) -> Shot:
    grooves = phantom.swirls(5, density_mm_per_cm2=90)
    hand = phantom.Shot(
        size_px=(1050, 1330), px_per_mm=14.0, seed=seed, offset_mm=(seed, -seed), lamp_mm=(-8, 6 + seed, 480)
    )
    seen = phantom.photograph(grooves, hand, panel=phantom.Panel(seed=3))
    assert seen.jpeg is not None
    data = processed(seen.jpeg, "smoothed hard")[0] if smoothed else seen.jpeg
    return measured_shot(load(data, name="a.jpg"), px_per_mm=14.0)
