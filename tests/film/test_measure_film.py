"""A film from its file to its figures, on the project's own renderer."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from defectmap.errors import PhotoError
from defectmap.film.comparing import compare_films
from defectmap.film.homography import grid, transform
from defectmap.film.measure_film import measure_film
from tests.phantom import Shot, swirls
from tests.phantom.film import PhantomFilm, Sweep, film, write_film

SHOT = Shot(size_px=(440, 600), px_per_mm=8.0)


@pytest.fixture(scope="module")
def swept(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, PhantomFilm]:
    made = film(
        swirls(1, density_mm_per_cm2=40, panel_mm=(80, 110)), SHOT, Sweep(frames=24, reach_mm=(16, 26))
    )
    path = tmp_path_factory.mktemp("film") / "door.mp4"
    write_film(made.frames, path)
    return path, made


@pytest.mark.slow
def test_a_film_is_one_measurement(swept: tuple[Path, PhantomFilm]) -> None:
    path, made = swept
    told: list[str] = []
    found = measure_film(path, px_per_mm=8.0, progress=lambda what, done, whole: told.append(what))
    facts, points = found.panel.film, grid(SHOT.size_px)
    assert facts is not None
    assert facts.frames == 24
    assert len(facts.used) >= 20
    apart = [
        np.median(np.hypot(*(transform(h, points) - transform(made.to_first[k], points)).T))
        for h, k in zip(facts.to_first, facts.used, strict=True)
    ]
    assert np.median(apart) < 1.5
    assert max(apart) < 4
    assert 0.7 < facts.directions_share <= 1
    assert {"looking at frames", "measuring frames"} <= set(told)
    single = max(shot.visible_mm for shot in made.shots)
    assert sum(mark.length_mm for mark in found.panel.marks) > 1.5 * single
    assert found.panel.score is None
    assert found.panel.rings == ()
    assert found.fused.shape == SHOT.size_px


@pytest.mark.slow
def test_two_places_in_one_film_are_refused(tmp_path: Path) -> None:
    pieces = []
    for seed in range(6):
        made = film(
            swirls(seed, density_mm_per_cm2=40, panel_mm=(80, 110)),
            SHOT,
            Sweep(frames=4, reach_mm=(16, 26), seed=seed),
        )
        pieces += made.frames
    path = tmp_path / "walk.mp4"
    write_film(pieces, path)
    with pytest.raises(PhotoError, match="Keep one spot in the picture"):
        measure_film(path, px_per_mm=8.0)


@pytest.mark.slow
def test_the_sample_films_tell_what_was_taken_off() -> None:
    """Grooves were drawn anew at 0.8 of their depth, and some left out: fewer marks, by more than half."""
    films = Path(__file__).resolve().parents[2] / "samples" / "films"
    truth = json.loads((films / "truth.json").read_text())
    before, after = (measure_film(films / f"{name}.mp4", px_per_mm=8.0) for name in ("before", "after"))
    for name, found in (("before", before), ("after", after)):
        facts = found.panel.film
        assert facts is not None
        points = grid(found.panel.zone.shape)
        for homography, number in zip(facts.to_first, facts.used, strict=True):
            apart = transform(homography, points) - transform(
                np.array(truth[name]["to_first"][number]), points
            )
            assert np.median(np.hypot(*apart.T)) < 4
    change = compare_films(before, after).change("density all")
    low, high = change.ci95_percent or (0, 0)
    true = 100 * (truth["after"]["standard_mm"] / truth["before"]["standard_mm"] - 1)
    assert change.distinguishable
    assert low < true < high
    assert abs((change.change_percent or 0) - true) < 3
    assert high - low < 25
