"""Figures that change without their version changing would stand beside old ones as if they were the same."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from defectmap import versions
from tests import frozen_figures

DO = "raise it in defectmap/versions.py, then run: python -m tests.frozen_figures"
# Another processor rounds differently in the last digits of a float32: far below any printed digit.
SAME = 1e-4


@pytest.fixture(scope="module")
def frozen() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(frozen_figures.FILE.read_text(encoding="utf-8"))
    return found


def assert_same(found: Any, was: Any, *, what: str, place: str = "") -> None:
    if isinstance(was, dict):
        for key in was:
            assert_same(found[key], was[key], what=what, place=f"{place}/{key}")
    elif isinstance(was, list):
        assert len(found) == len(was), f"{place}: {what}; {DO}"
        for one, other in zip(found, was, strict=True):
            assert_same(one, other, what=what, place=place)
    elif isinstance(was, float):
        assert found == pytest.approx(was, rel=SAME, abs=SAME), f"{place}: {what}; {DO}"
    else:
        assert found == was, f"{place}: {what}; {DO}"


def test_the_frozen_figures_are_of_these_versions(frozen: dict[str, Any]) -> None:
    assert (frozen["measuring"], frozen["comparing"]) == (versions.MEASURING, versions.COMPARING), DO


def test_figures_of_a_photograph_change_only_with_the_version_of_measuring(frozen: dict[str, Any]) -> None:
    assert_same(
        frozen_figures.measured(), frozen["photographs"], what="figures have changed, MEASURING has not"
    )


def test_figures_of_a_pair_change_only_with_the_version_of_comparing(frozen: dict[str, Any]) -> None:
    assert_same(frozen_figures.compared(), frozen["pair"], what="figures have changed, COMPARING has not")


def test_the_table_of_accuracy_holds_what_the_sample_measures() -> None:
    """Density that docs/accuracy.md gives of a shipped sample (its fifth figure)."""
    document = (Path(__file__).parents[1] / "docs" / "accuracy.md").read_text(encoding="utf-8")
    for name, found in frozen_figures.measured().items():
        row = re.search(rf"^\| {name} \|(.*)\|$", document, re.MULTILINE)
        assert row is not None, f"{name} is not in docs/accuracy.md"
        said = float(row[1].split("|")[4])
        assert found["density_mm_per_cm2"]["all"] == pytest.approx(said, abs=0.0051), (
            f"{name}: make the table anew with benchmarks/accuracy.py"
        )
