"""A sweep that kept away from a corner is told where to go."""

from __future__ import annotations

import numpy as np
import pytest

from defectmap.film.blindness import blind_places
from defectmap.film.directions import LampPlace, rose

SHAPE, RADIUS = (600, 800), 60.0


def swept(places: list[tuple[float, float]]) -> list[LampPlace]:
    return [LampPlace(x=x, y=y, radius_px=RADIUS) for x, y in places]


def everywhere() -> list[tuple[float, float]]:
    return [(x, y) for x in np.arange(20, 800, 60.0) for y in np.arange(20, 600, 60.0)]


def found(places: list[tuple[float, float]]) -> tuple[object, ...]:
    lamps = swept(places)
    return blind_places(rose(lamps, np.ones(SHAPE, bool), cell_px=20.0), lamps, SHAPE)


def test_a_sweep_over_everything_is_blind_nowhere() -> None:
    assert found(everywhere()) == ()


@pytest.mark.parametrize(
    ("keeps", "corner"),
    [
        (lambda x, y: x < 400, (5 / 6, None)),
        (lambda x, y: x > 400, (1 / 6, None)),
        (lambda x, y: y < 300, (None, 5 / 6)),
    ],
)
def test_the_side_that_the_lamp_left_out_is_named(keeps: object, corner: tuple[object, object]) -> None:
    places = found([place for place in everywhere() if keeps(*place)])  # type: ignore[operator]
    assert places
    worst = places[0]
    for share, wanted in zip((worst.x_share, worst.y_share), corner, strict=True):  # type: ignore[attr-defined]
        assert wanted is None or share == pytest.approx(wanted)
    shares = [place.directions_share for place in places]  # type: ignore[attr-defined]
    assert shares == sorted(shares)
    assert shares[-1] < 0.75


def test_going_where_it_says_shows_more() -> None:
    """The advice, followed, leaves the place less blind than going to the other sides would on average."""
    kept = [place for place in everywhere() if place[0] < 400]
    worst = found(kept)[0]
    step = {"left": (-1, 0), "right": (1, 0), "above": (0, -1), "below": (0, 1)} | {
        f"{v} {h}": (dx, dy)
        for v, dy in (("upper", -1), ("lower", 1))
        for h, dx in (("left", -1), ("right", 1))
    }

    def share_after(side: str) -> float:
        dx, dy = np.array(step[side]) / np.hypot(*step[side])
        x, y = worst.x_share * SHAPE[1], worst.y_share * SHAPE[0]  # type: ignore[attr-defined]
        lamps = swept([*kept, (x + 2.5 * RADIUS * dx, y + 2.5 * RADIUS * dy)])
        cells = rose(lamps, np.ones(SHAPE, bool), cell_px=20.0).covered
        rows, columns = (np.array_split(np.arange(n), 3) for n in cells.shape[:2])
        return float(cells[np.ix_(rows[int(3 * y / SHAPE[0])], columns[int(3 * x / SHAPE[1])])].mean())

    every = {side: share_after(side) for side in step}
    assert every[worst.lamp_side] >= np.mean(list(every.values()))  # type: ignore[attr-defined]
    assert every[worst.lamp_side] > worst.directions_share  # type: ignore[attr-defined]
