"""Many pairs of films of drawn paint, camera, hand and lamp path: does the interval hold what it says?

    python -m benchmarks.film_pairs [--scenes 100] [--first 0] [--jobs 2] [--keep FOLDER]

Each scene is filmed before, again along another path of the lamp (no change), and after a correction. Two
truths stand beside each figure: of the paint (what either sweep would have shown of the grooves before and
after, so that no change is exactly 0), and of the films (what each shows of its own). The first is what a
change means; the interval has to hold it.
"""

from __future__ import annotations

import argparse
import lzma
import pickle
import tempfile
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmarks.film import judged, runs_on_map, shown_um
from defectmap.errors import PhotoError
from defectmap.film.assembling import FilmMeasurement
from defectmap.film.comparing import compare_films
from defectmap.film.measure_film import measure_film
from tests.phantom import Groove, Panel, Shot, polished, scratches, swirls
from tests.phantom.film import PhantomFilm, Sweep, film, write_film

SIZE_PX = (540, 880)
PAINTS: dict[str, dict[str, Any]] = {
    "black": {},
    "red": {"body": (0.02, 0.004, 0.004)},
    "grey": {"body": (0.06, 0.06, 0.06)},
    "white": {"body": (0.55, 0.55, 0.53)},
    "silver": {"body": (0.12, 0.12, 0.12), "flake": 0.8},
    "hazy": {"alpha": 0.017},
}
CORRECTIONS = ((0.9, 0.93), (0.7, 0.8), (0.4, 0.7))  # share of grooves kept, and of their width and slope


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One scene."""

    number: int
    paint: str
    panel: Panel
    shot: Shot
    sweeps: tuple[Sweep, Sweep, Sweep]  # before, again, after
    density: float
    correction: tuple[float, float]

    @classmethod
    def of(cls, number: int) -> Drawn:
        """The scene of a number, the same every time."""
        rng = np.random.default_rng([number, 2112])
        paint = str(rng.choice(list(PAINTS)))
        peel = float(rng.choice([0.0008, 0.0012, 0.002, 0.003]))
        shot = Shot(
            size_px=SIZE_PX,
            px_per_mm=float(rng.choice([8.0, 10.0, 12.0])),
            iso=float(rng.choice([100, 200, 400, 800])),
            blur_px=float(rng.choice([0.7, 0.9, 1.1])),
            seed=1000 * number,
        )
        half = np.array(SIZE_PX) / shot.px_per_mm / 2
        tremor, frames = float(rng.choice([0.8, 1.5, 3.0])), int(rng.choice([30, 40, 60]))

        def sweep(seed: int) -> Sweep:
            down, right = half * rng.uniform((0.35, 0.55), (0.6, 0.8))  # the whole lamp stays in view
            return Sweep(
                frames=frames,
                path="circle" if rng.random() < 0.15 else "to and fro",
                rows=int(rng.integers(2, 5)),
                reach_mm=(float(down), float(right)),
                tremor_mm=tremor,
                turn_deg=0.5 * tremor,
                tilt=0.001 * tremor,
                place_mm=tuple(rng.normal(0, 2, 2)),
                seed=10 * number + seed,
            )

        return cls(
            number=number,
            paint=paint,
            panel=Panel(orange_peel_rad=peel, seed=number, **PAINTS[paint]),
            shot=shot,
            sweeps=(sweep(0), sweep(1), sweep(2)),
            density=float(rng.choice([8, 16, 30, 60, 100, 160])),
            correction=CORRECTIONS[int(rng.integers(len(CORRECTIONS)))],
        )

    def grooves(self) -> tuple[list[Groove], list[Groove]]:
        """Before and after."""
        seed = self.panel.seed
        before = [*swirls(seed, density_mm_per_cm2=self.density), *scratches(seed + 1, count=4)]
        keep, shallower = self.correction
        return before, list(polished(before, seed=seed, keep_share=keep, shallower=shallower))

    def __str__(self) -> str:
        """What it is, in a line."""
        shot, sweep = self.shot, self.sweeps[0]
        return (
            f"{self.number:4} {self.paint:6} peel {1000 * self.panel.orange_peel_rad:.1f} ISO {shot.iso:.0f} "
            f"blur {shot.blur_px} px/mm {shot.px_per_mm:.0f} frames {sweep.frames} tremor {sweep.tremor_mm} "
            f"grooves {self.density:.0f}"
        )


def run(number: int, keep: Path | None) -> list[str]:
    """All films of a scene, and its two pairs, as lines to print."""
    cv2.setNumThreads(1)  # each process is a thread of its own
    scene = Drawn.of(number)
    before, after = scene.grooves()
    said, measured = [f"# {scene}"], {}
    made: dict[str, PhantomFilm] = {}
    grooves = {"before": before, "again": before, "after": after}
    with tempfile.TemporaryDirectory() as folder:
        for place, name in enumerate(grooves):
            shot = replace(scene.shot, seed=scene.shot.seed + 100 * place)
            made[name] = film(grooves[name], shot, scene.sweeps[place], panel=scene.panel)
            path = Path(folder) / f"{name}.mp4"
            write_film(made[name].frames, path)
            try:
                measured[name] = measure_film(path, px_per_mm=shot.px_per_mm)
            except PhotoError as error:
                said.append(f"{number:4} {name:6} REFUSED {error}")
                continue
            figures, density = judged(measured[name], grooves[name], made[name])
            facts = "  ".join(f"{k} {v:.3g}" for k, v in figures.items())
            first = measured[name].panel.film.used[0]  # type: ignore[union-attr]
            said.append(f"{number:4} {name:6} FILM true {density:.2f} {facts} first {first}")
    kept = {}
    for name in ("again", "after"):
        if {"before", name} <= measured.keys():
            truths = _truths(before, grooves[name], (made["before"], made[name]), measured)
            said.append(f"{number:4} {name:6} PAIR {_told(measured['before'], measured[name], truths)}")
            kept[name] = truths
    if keep is not None:
        slim = {name: _slim(one) for name, one in measured.items()}
        (keep / f"{number}.pkl.xz").write_bytes(lzma.compress(pickle.dumps((slim, kept))))
    return said


def _truths(
    before: Sequence[Groove],
    after: Sequence[Groove],
    films: tuple[PhantomFilm, PhantomFilm],
    measured: dict[str, FilmMeasurement],
) -> tuple[float, float]:
    """Change in per cent of the paint under both sweeps, and as each film shows its own."""
    own, other = ([shown_um(list(g), film) for film in films] for g in (before, after))
    zone = measured["before"].panel.zone

    def length(grooves: Sequence[Groove], um: NDArray[np.float32]) -> float:
        total = 0.0
        for points, mm in runs_on_map(list(grooves), films[0], um):
            place = np.clip(np.round(points[:, ::-1]).astype(int), 0, np.array(zone.shape) - 1)
            total += mm * float(zone[tuple(place.T)].mean())
        return total

    both = [length(g, np.concatenate(um)) for g, um in ((before, own), (after, other))]
    each = length(before, own[0]), length(after, other[1])
    return 100 * (both[1] / both[0] - 1), 100 * (each[1] / each[0] - 1)


def _told(before: FilmMeasurement, after: FilmMeasurement, truths: tuple[float, float]) -> str:
    said = compare_films(before, after)
    true = f"true {truths[0]:.2f} films {truths[1]:.2f}"
    if not said.changes:
        return f"{true} none {[reason.code for reason in said.comparable.reasons]}"
    change = said.change("density all")
    if change.change_percent is None or change.ci95_percent is None:
        return f"{true} none {change.remark}"
    low, high = change.ci95_percent
    inside = "inside" if low <= truths[0] <= high else "OUTSIDE"
    clear = "told" if change.distinguishable else "not told"
    return f"{true} got {change.change_percent:.2f} ({low:.2f} to {high:.2f}) {inside} {clear}"


def _slim(one: FilmMeasurement) -> dict[str, Any]:
    """What a change is made of, in little room: every sixth point of the lines, strength in steps of 4 %."""
    um = np.abs(one.lines.um[:, ::6])
    code = np.where(um > 10, np.round(25 * np.log(np.maximum(um, 10) / 10)), 0)
    return {
        "at": one.lines.paths.points.astype(np.float32)[::6],
        "owner": one.lines.paths.owner[::6].astype(np.int32),
        "code": np.minimum(code, 255).astype(np.uint8),
        "lamps": one.lamps,
        "zone": np.packbits(one.panel.zone),
        "zone_shape": one.panel.zone.shape,
        "px_per_mm": one.panel.scale.px_per_mm,
        "density": one.panel.density.all,
    }


def _summary(lines: Sequence[str]) -> None:
    pairs = [line for line in lines if " PAIR " in line and " got " in line]
    for name in ("again", "after"):
        own = [line for line in pairs if line.split()[1] == name]
        inside = sum("inside" in line for line in own)
        told = sum("not told" not in line for line in own)
        print(f"{name}: {len(own)} pairs, {inside} inside, {told} told apart")


def main() -> None:
    """Run the scenes."""
    options = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    options.add_argument("--scenes", type=int, default=100)
    options.add_argument("--first", type=int, default=0)
    options.add_argument("--jobs", type=int, default=2)
    options.add_argument("--keep", type=Path, help="folder for what each change is made of")
    given = options.parse_args()
    lines: list[str] = []
    if given.keep:
        given.keep.mkdir(parents=True, exist_ok=True)
    numbers = range(given.first, given.first + given.scenes)
    with ProcessPoolExecutor(given.jobs) as pool:
        for said in pool.map(run, numbers, [given.keep] * given.scenes):
            print("\n".join(said), flush=True)
            lines += said
    _summary(lines)


if __name__ == "__main__":
    main()
