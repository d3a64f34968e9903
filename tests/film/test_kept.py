"""What is kept of a film comes back whole, and says the same when compared."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np

from defectmap.film.assembling import FilmMeasurement
from defectmap.film.comparing import compare_films
from defectmap.panel.codec import measurement_record
from defectmap.record.shelf import panel_of, put, take
from tests.film.fields import straight_lines
from tests.film.measured import measured


def flat(part: object) -> list[np.ndarray]:
    """Every number of a part of a measurement."""
    if hasattr(part, "__dataclass_fields__"):
        return [one for field in fields(part) for one in flat(getattr(part, field.name))]  # type: ignore[arg-type]
    if isinstance(part, tuple):
        return [one for each in part for one in flat(each)]
    return [np.asarray(part)]


def test_a_film_comes_back_from_the_shelf_with_all_it_holds(tmp_path: Path) -> None:
    film = measured(straight_lines(3, 60))
    put(film, tmp_path / "kept" / "one.npz")
    again = take(tmp_path / "kept" / "one.npz")
    assert isinstance(again, FilmMeasurement)
    assert measurement_record(again.panel) == measurement_record(film.panel)
    for field in fields(FilmMeasurement):  # a field that is added has to be kept as well
        if field.name == "panel":
            continue
        one, other = flat(getattr(film, field.name)), flat(getattr(again, field.name))
        assert all(np.array_equal(a, b) for a, b in zip(one, other, strict=True)), field.name


def test_kept_films_compare_as_fresh_ones_do(tmp_path: Path) -> None:
    lines = straight_lines(3, 120)
    sides = [measured(lines), measured(lines[:70], phase=2.0, name="after")]
    kept = []
    for number, film in enumerate(sides):
        put(film, tmp_path / f"{number}.npz")
        kept.append(take(tmp_path / f"{number}.npz"))
    fresh, later = compare_films(*sides), compare_films(*kept)  # type: ignore[arg-type]
    assert fresh.change("density all") == later.change("density all")


def test_a_shelf_that_lost_its_films_part_is_none(tmp_path: Path) -> None:
    film = measured(straight_lines(3, 20))
    put(panel_of(film), tmp_path / "one.npz")  # figures of a film, without its lines
    assert take(tmp_path / "one.npz") is None
