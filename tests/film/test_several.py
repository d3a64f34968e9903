"""Several filmed spots together, and a film that meets a photograph."""

from __future__ import annotations

import pytest

from defectmap.comparison.contract import comparison_record
from defectmap.comparison.films_apart import film_share
from defectmap.comparison.outcome import Comparison
from defectmap.film.comparing import compare_films
from defectmap.film.several import compare_film_spots, film_against_photograph
from tests.film.fields import straight_lines
from tests.film.measured import measured
from tests.measurements import panel_measurement

FIELDS = [straight_lines(seed, 120) for seed in (3, 4, 5)]
BEFORE = [measured(lines, name=f"before {n}") for n, lines in enumerate(FIELDS)]
AFTER = [measured(lines[: 70 - 8 * n], phase=2.0, name=f"after {n}") for n, lines in enumerate(FIELDS)]


def together(count: int) -> Comparison:
    return compare_film_spots(BEFORE[:count], AFTER[:count], after_stage="wiped")


def test_one_spot_is_compared_as_two_films_are() -> None:
    assert together(1) == pytest.approx(together(1))  # deterministic
    one = compare_films(BEFORE[0], AFTER[0], after_stage="wiped")
    assert together(1).changes == one.changes


@pytest.mark.parametrize(("count", "scope"), [(2, "these spots"), (3, "the panel")])
def test_several_spots_have_the_change_of_their_means(count: int, scope: str) -> None:
    found = together(count)
    each = [compare_films(b, a) for b, a in zip(BEFORE[:count], AFTER[:count], strict=True)]
    before, after = (
        sum(getattr(one.change("density all"), side) for one in each) / count for side in ("before", "after")
    )
    change = found.change("density all")
    assert (change.before, change.after) == pytest.approx((before, after))
    assert change.change_percent == pytest.approx(100 * (after / before - 1))
    low, high = change.ci95_percent or (0, 0)
    assert low < change.change_percent < high < 0  # type: ignore[operator]
    assert found.scope == scope
    assert ("few spots" in [w.code for w in found.warnings]) == (count < 3)
    assert film_share(comparison_record(found)) is not None


def test_two_spots_are_surer_than_the_less_sure_of_them() -> None:
    widths = []
    for one in (compare_films(BEFORE[0], AFTER[0]), compare_films(BEFORE[1], AFTER[1]), together(2)):
        low, high = one.change("density all").ci95_percent or (0, 0)
        widths.append(high - low)
    assert widths[2] < max(widths[:2])


def test_one_spot_that_cannot_be_compared_holds_back_all() -> None:
    found = compare_film_spots(BEFORE[:2], [AFTER[0], measured(FIELDS[2], name="other")])
    assert (found.comparable.verdict, found.changes) == ("no", ())


def test_a_film_is_not_held_against_a_photograph() -> None:
    for sides, word in (
        ((BEFORE[0].panel, panel_measurement()), "before"),
        ((panel_measurement(), AFTER[0].panel), "after"),
    ):
        found = film_against_photograph([sides], before_stage="decontaminated", after_stage="wiped")
        record = comparison_record(found)
        assert record["comparable"] == "no"
        assert f"filmed {word}" in record["reasons"][0]
        assert record["density_mm_per_cm2"]["all"]["change_percent"] is None
