"""A set-up's repeatability: made, kept, read, used."""

from pathlib import Path

import numpy as np
import pytest

from defectmap.comparison.align import Alignment
from defectmap.comparison.repeating import repeat_profile
from defectmap.comparison.setup_profile import (
    ASSUMED,
    SetupError,
    SetupProfile,
    find_profile,
    load_profile,
    save_profile,
    setups_folder,
)
from tests.comparison import made

HELD = Alignment(by="marks", sureness=5.0, marks_sureness=5.0, texture_sureness=0.0)


def shots(number: int, missed: float) -> SetupProfile:
    """The same spot, camera and lamp held still, a share of the marks missed by chance in each shot."""
    paint = made.panel(1, 700)
    taken = [made.photograph(paint, missed=missed, seed=seed, name=f"{seed}.jpg") for seed in range(number)]
    return repeat_profile(taken, [HELD] * (number - 1))


def test_scatter_grows_with_what_is_missed() -> None:
    calm, wild = (shots(5, missed).figures["density all"].relative for missed in (0.02, 0.3))
    assert 0 < calm < wild < 0.2


def test_missing_by_chance_is_local() -> None:
    # each mark by its own lot: sectors do not move together, so little is common to all
    found = shots(6, 0.3).figures["density all"]
    assert found.common < 0.7 * found.relative


def test_no_scatter_at_all() -> None:
    found = shots(4, 0.0).figures["density all"]
    assert found.relative == pytest.approx(0, abs=1e-12)
    assert found.limit_percent == pytest.approx(0, abs=1e-9)


def test_own_zones_scatter_as_measure_counts() -> None:
    """Coefficient of variation of what each photograph says alone, standard deviation with n - 1."""
    paint = made.panel(1, 700)
    taken = [made.photograph(paint, missed=0.2, seed=seed, name=f"{seed}.jpg") for seed in range(5)]
    alone = np.array([shot.density.all for shot in taken])
    found = repeat_profile(taken, [HELD] * 4).figures["density all"]
    assert found.own_zones == pytest.approx(alone.std(ddof=1) / alone.mean())


def test_limit_is_that_of_iso_5725() -> None:
    found = shots(5, 0.2).figures["density all"]
    assert found.limit_percent == pytest.approx(277.2 * found.relative, rel=1e-3)  # 1.96 times root 2
    assert found.smallest_change_percent > 0.9 * found.limit_percent / (1 + found.limit_percent / 100)


def test_few_shots_are_said_to_be_few() -> None:
    few = {one.code: one.values for one in shots(3, 0.1).warnings}["few shots"]
    assert few["doubt"] == pytest.approx(50)  # GUM table E.1
    assert shots(5, 0.1).warnings == ()


def test_two_shots_are_too_few() -> None:
    with pytest.raises(ValueError, match="at least 3 shots"):
        shots(2, 0.1)


def test_round_trip(tmp_path: Path) -> None:
    profile = shots(5, 0.1)
    path = save_profile(profile, folder=tmp_path)
    assert path.name == "default.json"
    assert load_profile(folder=tmp_path) == profile
    assert find_profile(None, folder=tmp_path) == profile


def test_never_made(tmp_path: Path) -> None:
    assert find_profile(None, folder=tmp_path) is None
    with pytest.raises(SetupError, match="No set-up is called 'stand'"):
        find_profile("stand", folder=tmp_path)


@pytest.mark.parametrize(
    "text", ["{", "{}", '{"schema": 2}', "[1]", '{"schema": 1, "name": "x", "shots": 3}']
)
def test_damaged_file(tmp_path: Path, text: str) -> None:
    (tmp_path / "default.json").write_text(text, encoding="utf-8")
    with pytest.raises(SetupError, match="damaged"):
        load_profile(folder=tmp_path)


@pytest.mark.parametrize("name", ["", "../evil", "a/b", ".hidden", "x" * 99])
def test_names_that_are_no_names(tmp_path: Path, name: str) -> None:
    with pytest.raises(SetupError, match="not a valid name"):
        load_profile(name, folder=tmp_path)


def test_folder_is_the_users() -> None:
    assert setups_folder().name == "setups"
    assert setups_folder().parent.name == "defectmap"


def test_figure_without_scatter_falls_back() -> None:
    bare = SetupProfile(name="x", shots=5, figures={})
    assert bare.capture("haze") == ASSUMED.capture("haze")
    assert np.isfinite(ASSUMED.capture("density all").relative)


def by_phone(missed: dict[str, float], each: int) -> SetupProfile:
    """Several phones, each missing another share of the marks, `each` shots with every one."""
    paint, taken = made.panel(1, 700), []
    for number, (camera, share) in enumerate(missed.items()):
        for shot in range(each):
            one = made.photograph(paint, missed=share, seed=10 * number + shot, name=f"{camera}{shot}.jpg")
            taken.append(made.with_facts(one, camera=camera))
    return repeat_profile(taken, [HELD] * (len(taken) - 1))


def test_phones_that_see_alike_reproduce_as_they_repeat() -> None:
    found = by_phone({"A": 0.1, "B": 0.1, "C": 0.1}, 4)
    assert found.phones == 3
    scatter = found.figures["density all"]
    assert scatter.reproducibility == pytest.approx(scatter.relative, rel=0.5)


def test_phones_that_see_differently_reproduce_worse() -> None:
    # means of 1, 0.8 and 0.6: their standard deviation over their mean is 0.25
    scatter = by_phone({"A": 0.0, "B": 0.2, "C": 0.4}, 3).figures["density all"]
    assert scatter.reproducibility == pytest.approx(0.25, abs=0.04)
    assert scatter.relative < 0.08
    assert scatter.df == 6


def test_one_shot_with_each_phone_cannot_part_the_two() -> None:
    scatter = by_phone({"A": 0.0, "B": 0.2, "C": 0.4}, 1).figures["density all"]
    assert scatter.reproducibility == pytest.approx(0.25, abs=0.04)
    assert scatter.relative == pytest.approx(scatter.reproducibility, rel=0.02)
    assert shots(3, 0.1).figures["density all"].reproducibility is None
