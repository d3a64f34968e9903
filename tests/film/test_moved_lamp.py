"""Photographs of one spot with the lamp moved: the quality of a film, from eight pictures."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from defectmap.commands.program import app
from defectmap.film.homography import grid, transform
from defectmap.film.measure_film import measure_film
from defectmap.panel.measure import measure
from defectmap.panel.photo.photograph import load
from defectmap.panel.tuning import STANDARD_UM
from tests.phantom import Shot, swirls
from tests.phantom.film import PhantomFilm, Sweep, film
from tests.phantom.grooves import Groove
from tests.phantom.view import View

SHOT = Shot(size_px=(440, 640), px_per_mm=8.0)
SWEEP = Sweep(frames=7, path="circle", rows=1, reach_mm=(13, 24), tremor_mm=2, turn_deg=1.5, tilt=0.003)


def photographs(folder: Path, seed: int) -> tuple[list[Groove], PhantomFilm, list[Path]]:
    grooves = swirls(seed, density_mm_per_cm2=50, panel_mm=(90, 120))
    made = film(grooves, SHOT, SWEEP)
    paths = [folder / f"{seed}-{number}.png" for number in range(len(made.frames))]
    for picture, path in zip(made.frames, paths, strict=True):
        cv2.imwrite(str(path), picture[..., ::-1])
    return list(grooves), made, paths


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Groove], PhantomFilm, list[Path]]:
    return photographs(tmp_path_factory.mktemp("lamp"), 2)


@pytest.mark.slow
def test_seven_lamp_places_show_more_than_twice_what_one_shows(
    door: tuple[list[Groove], PhantomFilm, list[Path]],
) -> None:
    grooves, made, paths = door
    found = measure_film(paths, px_per_mm=8.0)
    facts = found.panel.film
    assert facts is not None
    assert facts.by_hand
    assert len(facts.used) >= 6
    points = grid(SHOT.size_px)
    for homography, number in zip(facts.to_first, facts.used, strict=True):
        apart = transform(homography, points) - transform(made.to_first[number], points)
        assert np.median(np.hypot(*apart.T)) < 1.5
    single = measure(load(paths[1]), px_per_mm=8.0)
    assert found.panel.density.all * found.panel.area_cm2 > 2 * single.density.all * single.area_cm2
    assert all(mark.equivalent_width_um >= STANDARD_UM for mark in found.panel.marks)
    canvas = np.zeros(SHOT.size_px, np.uint8)
    view = View(size_px=SHOT.size_px, px_per_mm=8.0, offset_mm=made.shots[0].shot.offset_mm, turn_deg=0.0)
    for groove in grooves:
        row, column = view.to_px(*groove.points.T)
        cv2.polylines(canvas, [np.round(np.column_stack([column, row])).astype(np.int32)], False, 1, 5)
    places = np.round(np.concatenate([mark.points for mark in found.panel.marks])).astype(int)
    places = np.clip(places, 0, np.array(SHOT.size_px) - 1)
    assert canvas[tuple(places.T)].mean() > 0.95


@pytest.mark.slow
def test_a_photograph_of_another_place_is_left_out_and_said(
    door: tuple[list[Groove], PhantomFilm, list[Path]], tmp_path: Path
) -> None:
    _, _, strangers = photographs(tmp_path, 77)
    mixed = [*door[2][:4], strangers[4], *door[2][5:]]
    out = tmp_path / "spot.json"
    done = CliRunner().invoke(
        app, ["measure", "--moved-lamp", *map(str, mixed), "--px-per-mm", "8", "--json", str(out)]
    )
    assert done.exit_code == 0, done.output
    record = json.loads(out.read_text())
    assert 4 not in record["film"]["used"]
    assert record["score"] is None
    assert any("do not lie on the others" in sentence for sentence in record["warnings"])
