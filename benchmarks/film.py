"""Films of the project's own renderer, on which nothing was tuned: how true are the figures?

    python benchmarks/film.py [--scenes 0 2]

For each scene a film before, one of the same paint along another path of the lamp, and one after a
correction. Truth counts what any frame shows at an equivalent width of 100 µm over 1 mm, whatever its noise
hides; recall is of what two frames show.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.errors import PhotoError
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.comparing import compare_films
from defectmap.film.homography import grid, transform
from defectmap.film.measure_film import measure_film
from tests.phantom import Groove, Panel, Shot, camera, polished, scratches, swirls
from tests.phantom.film import PhantomFilm, Sweep, film, write_film
from tests.phantom.grooved import Grooved
from tests.phantom.light import LightField
from tests.phantom.strokes import sampled
from tests.phantom.view import View

TOLERANCE_PX = 2.5
STANDARD_UM, LEAST_MM = 100.0, 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Paint, camera and hand of one set of films."""

    name: str
    shot: Shot
    panel: Panel
    sweep: Sweep
    density: float  # of swirl marks, mm/cm²
    kept: float  # share of width and slope that grooves keep in the correction


SCENES = (
    Scene(
        name="black, calm hand",
        shot=Shot(size_px=(540, 800), px_per_mm=10.0, iso=100),
        panel=Panel(),
        sweep=Sweep(frames=40, rows=3, reach_mm=(17, 30)),
        density=60,
        kept=0.7,
    ),
    Scene(
        name="grey, shaky, ISO 400",
        shot=Shot(size_px=(600, 800), px_per_mm=8.0, iso=400, blur_px=1.0),
        panel=Panel(body=(0.03, 0.03, 0.03), orange_peel_rad=0.002, seed=3),
        sweep=Sweep(frames=44, rows=4, reach_mm=(24, 36), tremor_mm=3.0, tilt=0.003, seed=5),
        density=45,
        kept=0.65,
    ),
    Scene(
        name="hazy, fine scale",
        shot=Shot(size_px=(640, 900), px_per_mm=14.0, lamp_radius_mm=8.0),
        panel=Panel(alpha=0.016, seed=4),
        sweep=Sweep(frames=40, rows=3, reach_mm=(16, 24), seed=9),
        density=70,
        kept=0.75,
    ),
    Scene(
        name="white, circle, ISO 400",
        shot=Shot(size_px=(540, 880), px_per_mm=10.0, iso=400),
        panel=Panel(body=(0.55, 0.55, 0.53), orange_peel_rad=0.002, seed=31),
        sweep=Sweep(frames=44, path="circle", rows=2, reach_mm=(15, 26), seed=32),
        density=100,
        kept=0.65,
    ),
    Scene(
        name="silver flake, quick hand",
        shot=Shot(size_px=(540, 880), px_per_mm=10.0, iso=200),
        panel=Panel(body=(0.12, 0.12, 0.12), flake=1.0, seed=41),
        sweep=Sweep(frames=44, rows=2, reach_mm=(16, 28), tremor_mm=4.0, turn_deg=1.5, tilt=0.003, seed=42),
        density=80,
        kept=0.7,
    ),
    Scene(
        name="grey, heavy peel, ISO 800",
        shot=Shot(size_px=(540, 880), px_per_mm=10.0, iso=800),
        panel=Panel(body=(0.06, 0.06, 0.06), orange_peel_rad=0.003, seed=14),
        sweep=Sweep(frames=44, rows=2, reach_mm=(16, 28), seed=15),
        density=70,
        kept=0.65,
    ),
    Scene(
        name="few marks, straight sweep",
        shot=Shot(size_px=(540, 880), px_per_mm=10.0, iso=200),
        panel=Panel(orange_peel_rad=0.0018, seed=51),
        sweep=Sweep(frames=44, path="straight", reach_mm=(16, 28), seed=52),
        density=25,
        kept=0.7,
    ),
)


def shown_um(grooves: list[Groove], made: PhantomFilm) -> NDArray[np.float64]:
    """(frames, samples) equivalent width in µm of each place of each groove; 0 in the lamp's own glare."""
    rows = []
    for one in made.shots:
        shot, panel = one.shot, one.panel
        view = View(
            size_px=shot.size_px, px_per_mm=shot.px_per_mm, offset_mm=shot.offset_mm, turn_deg=shot.turn_deg
        )
        grooved = Grooved.of(grooves, LightField(shot, panel), view)
        inside = view.contains(grooved.row, grooved.column)
        body = grooved.body * float(np.array(camera.LUMA) @ panel.body)
        gain = 2**shot.ev
        um = np.zeros(len(grooved.row))
        for group in grooved.strips:
            level = (grooved.flat + body)[group.pick]
            added = (group.light.mean(axis=1) - grooved.flat[group.pick]) * group.width_px / shot.px_per_mm
            lit = np.minimum(level * gain, 1) < 0.6
            um[group.pick] = np.where(lit, 1000 * added / np.maximum(level, 1e-6), 0)
        rows.append(np.where(inside, um, 0))
    return np.array(rows)


def runs_on_map(
    grooves: list[Groove], made: PhantomFilm, um: NDArray[np.float64], *, frames: int = 1
) -> list[tuple[NDArray[np.float64], float]]:
    """Points (x, y) on the first frame and mm of each run at the standard, as so many frames show it."""
    samples = sampled(grooves)
    shot = made.shots[0].shot
    view = View(
        size_px=shot.size_px, px_per_mm=shot.px_per_mm, offset_mm=shot.offset_mm, turn_deg=shot.turn_deg
    )
    row, column = view.to_px(samples.row_mm, samples.column_mm)
    strong = ((np.abs(um) >= STANDARD_UM).sum(axis=0) >= frames) & view.contains(row, column)
    label = np.where(strong, samples.groove, -1)
    starts = np.flatnonzero(np.diff(label, prepend=-9))
    found = []
    for start, stop in zip(starts, [*starts[1:], len(label)], strict=True):
        length = samples.along_mm[stop - 1] - samples.along_mm[start]
        if label[start] >= 0 and length >= LEAST_MM:
            found.append((np.column_stack([column[start:stop], row[start:stop]]), float(length)))
    return found


def drawn(lines: list[NDArray[np.float64]], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    canvas = np.zeros(shape, np.uint8)
    for points in lines:
        cv2.polylines(canvas, [np.round(points * 16).astype(np.int32)], False, 1, 1, cv2.LINE_8, 4)
    return canvas > 0


def near(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5) <= TOLERANCE_PX)


def judged(
    found: FilmMeasurement, grooves: list[Groove], made: PhantomFilm
) -> tuple[dict[str, float], float]:
    """Figures of one film against its truth, and its true density in the zone."""
    zone, ppm = found.panel.zone, made.px_per_mm
    um = shown_um(grooves, made)
    true = runs_on_map(grooves, made, um)
    wanted = drawn([points for points, _ in runs_on_map(grooves, made, um, frames=2)], zone.shape) & zone
    mine = drawn([mark.points[:, ::-1] for mark in found.panel.marks], zone.shape) & zone
    view = made.shots[0].shot
    panel_view = View(
        size_px=view.size_px, px_per_mm=view.px_per_mm, offset_mm=view.offset_mm, turn_deg=view.turn_deg
    )
    whole = [np.column_stack(panel_view.to_px(*g.points.T)[::-1]) for g in grooves]
    inside = [
        length * zone[tuple(np.clip(np.round(p[:, ::-1]).astype(int), 0, np.array(zone.shape) - 1).T)].mean()
        for p, length in true
    ]
    density = sum(inside) / (zone.sum() / ppm**2 / 100)
    points = grid(zone.shape)
    facts = found.panel.film
    assert facts is not None
    apart = [
        float(np.median(np.hypot(*(transform(h, points) - transform(made.to_first[k], points)).T)))
        for h, k in zip(facts.to_first, facts.used, strict=True)
    ]
    return {
        "recall": float((wanted & near(mine)).sum() / max(wanted.sum(), 1)),
        "precision": float((mine & near(drawn(whole, zone.shape))).sum() / max(mine.sum(), 1)),
        "density_%": 100 * (found.panel.density.all / density - 1),
        "apart_px": float(np.median(apart)),
        "worst_px": max(apart),
        "used": len(facts.used),
        "directions": facts.directions_share,
    }, density


def run(scene: Scene, folder: Path) -> None:
    seed = scene.panel.seed
    before = [*swirls(seed, density_mm_per_cm2=scene.density), *scratches(seed + 1, count=6)]
    after = list(polished(before, seed=seed, keep_share=0.6, shallower=scene.kept))
    other = replace(scene.sweep, seed=scene.sweep.seed + 1, rows=scene.sweep.rows + 1)
    films = {
        "before": (before, scene.sweep),
        "again": (before, other),
        "after": (after, replace(other, seed=other.seed + 1)),
    }
    measured, truths = {}, {}
    for name, (grooves, sweep) in films.items():
        made = film(grooves, replace(scene.shot, seed=10 * len(measured)), sweep, panel=scene.panel)
        path = folder / f"{name}.mp4"
        write_film(made.frames, path)
        began = time.process_time()
        try:
            measured[name] = measure_film(path, px_per_mm=made.px_per_mm)
        except PhotoError as error:
            print(f"{scene.name:25} {name:7} refused: {error}", flush=True)
            continue
        took = time.process_time() - began
        figures, truths[name] = judged(measured[name], grooves, made)
        print(
            f"{scene.name:25} {name:7}",
            "  ".join(f"{k} {v:.3g}" for k, v in figures.items()),
            f"CPU {took:.0f} s",
            flush=True,
        )
    for name in [name for name in ("again", "after") if {name, "before"} <= measured.keys()]:
        print(f"{scene.name:25} before -> {name}:", compared(measured["before"], measured[name]), end=" ")
        print(f"true {100 * (truths[name] / truths['before'] - 1):.1f}", flush=True)


def compared(before: FilmMeasurement, after: FilmMeasurement) -> str:
    """What the comparison says of all marks."""
    said = compare_films(before, after)
    if not said.changes:
        return f"{said.comparable.verdict} {[reason.code for reason in said.comparable.reasons]}"
    change = said.change("density all")
    low, high = change.ci95_percent or (np.nan, np.nan)
    clear = "" if change.distinguishable else ", not distinguishable"
    return f"{change.change_percent:.1f} ({low:.1f} to {high:.1f}){clear}"


def main() -> None:
    options = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    options.add_argument("--scenes", type=int, nargs="*", default=range(len(SCENES)))
    for number in options.parse_args().scenes:
        with tempfile.TemporaryDirectory() as folder:
            run(SCENES[number], Path(folder))


if __name__ == "__main__":
    main()
