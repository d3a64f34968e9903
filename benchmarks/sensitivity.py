#!/usr/bin/env python3
"""Move every constant of `panel/tuning.py` and `comparison/tuning.py` by 20 % and print what it moves.

    python benchmarks/sensitivity.py [--films] [--jobs N] [--small] [--only NAME ...] [--out FILE] [--write]

With `--films` the same of `film/tuning.py`, on two rendered films of one panel.

Two rendered photographs of one panel, before and after a correction, and two of the samples (left out with
`--small`) are measured and compared with each constant at 0.8 and at 1.2 of its value. Whole numbers move by
at least 1, pairs and rows of numbers move together. Each trial is a process of its own that sets the
constant before anything else is loaded, so that a figure made from it moves as well. What is done stands in
FILE, a line of JSON a trial; a second run goes on from there and prints the table anew. `--write` tries
nothing new: it puts what FILE holds into the tuning modules, a line of weights under each section's heading.

- density: largest change of the density of standard marks, in percent of it;
- F1: largest change of F1 of traced lines (`benchmarks/accuracy.py` says of what);
- change: largest move of the change of density, or of an end of its interval, in points;
- verdict: a photograph is refused, or the comparison's verdict or its warnings are others.
"""

from __future__ import annotations

import argparse
import dataclasses
import importlib
import json
import multiprocessing
import os
import pickle
import re
import sys
import textwrap
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent.parent
FOLDER = HERE / "build" / "sensitivity"
SAMPLES = HERE / "samples" / "photos"
MODULES, FILM_MODULES = ("panel", "comparison"), ("film",)
FACTORS = (0.8, 1.2)
LEAST_TOLD = 0.5  # percent of density or points of change; what moves less is counted, not named
LEAST_F1 = 0.01  # nor what moves F1 by less
PRELOADED = ["numpy", "scipy.ndimage", "scipy.spatial", "scipy.sparse.csgraph", "scipy.stats", "cv2", "PIL"]
Trial = tuple[str, str, float]  # package, constant, factor


def main() -> None:
    parser = argparse.ArgumentParser(description="What each constant weighs.")
    parser.add_argument("--films", action="store_true", help="constants of films")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--small", action="store_true", help="the rendered pair alone")
    parser.add_argument("--only", nargs="*", default=[], help="constants, such as SEEN_FROM")
    parser.add_argument("--out", type=Path, default=None)
    parser.add_argument("--write", action="store_true", help="put what is known into the tuning modules")
    given = parser.parse_args()
    given.out = given.out or FOLDER / ("film-trials.jsonl" if given.films else "trials.jsonl")
    if given.write:
        return write_weights(read(given.out))
    pairs = [rendered_films() if given.films else rendered_pair()]
    if not given.small and not given.films:
        pairs.append((SAMPLES / "bonnet-before.jpg", SAMPLES / "bonnet-after.jpg"))
    given.out.parent.mkdir(parents=True, exist_ok=True)
    done = read(given.out)
    wanted = [
        ("", "", 1.0),
        *(
            trial
            for trial in trials(FILM_MODULES if given.films else MODULES)
            if not given.only or trial[1] in given.only
        ),
    ]
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOADED)
    with ProcessPoolExecutor(given.jobs, mp_context=context, max_tasks_per_child=1) as pool:
        runs = {pool.submit(run, trial, pairs): trial for trial in wanted if key(trial) not in done}
        for number, future in enumerate(as_completed(runs), start=1):
            trial = runs[future]
            done[key(trial)] = future.result()
            with given.out.open("a") as file:
                print(json.dumps({"trial": key(trial), **done[key(trial)]}), file=file)
            print(f"\r{number} of {len(runs)} {key(trial):60}", end="", file=sys.stderr, flush=True)
    print_table([trial for trial in wanted if trial[0]], done)


def key(trial: Trial) -> str:
    """What a trial is called in the file."""
    return "{}.{} {}".format(*trial)


def trials(packages: tuple[str, ...]) -> list[Trial]:
    """Every constant that can be moved, down and up."""
    found = []
    for package in packages:
        module = importlib.import_module(f"defectmap.{package}.tuning")
        for name, value in vars(module).items():
            if name.isupper() and moved(value, 1.2) != value:
                found += [(package, name, factor) for factor in FACTORS]
    return found


def moved(value: Any, factor: float) -> Any:
    """A constant, each number in it times `factor`; whole numbers by at least 1, and never below 1."""
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, int):
        step = max(1, round(abs(value * (factor - 1))))
        return max(1, value + (step if factor > 1 else -step))
    if isinstance(value, float):
        return value * factor
    if isinstance(value, tuple):
        return tuple(moved(one, factor) for one in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        parts = {f.name: moved(getattr(value, f.name), factor) for f in dataclasses.fields(value)}
        return dataclasses.replace(value, **parts)
    return value


def rendered_pair() -> tuple[Path, Path]:
    """A swirled panel before and after a correction, camera and lamp moved by hand; written once."""
    from tests import phantom

    paths = FOLDER / "before.jpg", FOLDER / "after.jpg"
    if not all(path.with_suffix(".truth.json").is_file() for path in paths):
        FOLDER.mkdir(parents=True, exist_ok=True)
        swirled = phantom.swirls(1, density_mm_per_cm2=60) + phantom.scratches(1, count=6)
        corrected = phantom.polished(swirled, seed=3, keep_share=0.4)
        size: dict[str, Any] = {"size_px": (1000, 1300), "px_per_mm": 14.0, "dust": 6}
        moved_lamp: dict[str, Any] = {"offset_mm": (3.0, -2.0), "turn_deg": 2.0, "lamp_mm": (-4.0, 3.0, 470)}
        panel = phantom.Panel(seed=1)
        for grooves, path, more in ((swirled, paths[0], {"seed": 1}), (corrected, paths[1], moved_lamp)):
            shot = phantom.Shot(**size, **more)
            phantom.write(phantom.photograph(grooves, shot, panel=panel), FOLDER, name=path.stem)
    return paths


def rendered_films() -> tuple[Path, Path]:
    """The same of films, with what their truth is made of beside them; written once."""
    from types import SimpleNamespace

    from tests import phantom
    from tests.phantom.film import Sweep, film, write_film

    paths = FOLDER / "before.mp4", FOLDER / "after.mp4"
    if not all(path.with_suffix(".pkl").is_file() for path in paths):
        FOLDER.mkdir(parents=True, exist_ok=True)
        swirled = [*phantom.swirls(5, density_mm_per_cm2=50), *phantom.scratches(6, count=4)]
        corrected = list(phantom.polished(swirled, seed=5, keep_share=0.7, shallower=0.8))
        panel = phantom.Panel(seed=5, orange_peel_rad=0.0016)
        for grooves, path, rows in ((swirled, paths[0], 3), (corrected, paths[1], 2)):
            shot = phantom.Shot(size_px=(440, 600), px_per_mm=8.0, iso=200, seed=100 * rows)
            sweep = Sweep(frames=30, rows=rows, reach_mm=(15, 26), place_mm=(0.0, 2.0 * rows), seed=rows)
            made = film(grooves, shot, sweep, panel=panel)
            write_film(made.frames, path)
            slim = SimpleNamespace(
                shots=[SimpleNamespace(shot=one.shot, panel=one.panel) for one in made.shots],
                to_first=made.to_first,
                px_per_mm=made.px_per_mm,
            )
            path.with_suffix(".pkl").write_bytes(pickle.dumps((grooves, slim)))
    return paths


def judge_films(before: Path, after: Path, found: dict[str, Any]) -> None:
    """Add what a pair of films says."""
    from benchmarks.film import judged
    from defectmap.film.comparing import compare_films
    from defectmap.film.measure_film import measure_film

    films = []
    for path in (before, after):
        grooves, made = pickle.loads(path.with_suffix(".pkl").read_bytes())
        film = measure_film(path, px_per_mm=made.px_per_mm)
        figures, _ = judged(film, grooves, made)
        found["density"].append(film.panel.density.all)
        found["f1"].append(2 / (1 / max(figures["recall"], 0.01) + 1 / max(figures["precision"], 0.01)))
        found["said"].append(sorted(warning.code for warning in film.panel.warnings))
        films.append(film)
    compared = compare_films(*films)
    found["said"].append(compared.comparable.verdict)
    change = compared.change("density all") if compared.changes else None
    if change is not None and change.change_percent is not None:
        found["change"] += [change.change_percent, *(change.ci95_percent or ())]


def run(trial: Trial, pairs: list[tuple[Path, Path]]) -> dict[str, Any]:
    """Measure and compare with one constant moved."""
    package, name, factor = trial
    if package:
        tuning = importlib.import_module(f"defectmap.{package}.tuning")
        setattr(tuning, name, moved(getattr(tuning, name), factor))
    import cv2

    cv2.setNumThreads(1)
    found: dict[str, Any] = {"density": [], "f1": [], "change": [], "said": []}
    try:
        for before, after in pairs:
            (judge_films if before.suffix == ".mp4" else judge_pair)(before, after, found)
    except Exception as error:  # a constant moved into nonsense is a result as well
        if not package:
            raise
        found["said"].append(f"{type(error).__name__}: {error}")
    return found


def judge_pair(before: Path, after: Path, found: dict[str, Any]) -> None:
    """Add what one pair says."""
    from benchmarks.accuracy import judge
    from defectmap.comparison.compare import compare_shots, measured_shot
    from defectmap.panel.photo.photograph import load

    shots = []
    for path in (before, after):
        truth = json.loads(path.with_suffix(".truth.json").read_text())
        shot = measured_shot(load(path), px_per_mm=truth["px_per_mm"])
        judged = judge(path.name, shot.measured, truth, seconds=0.0)
        found["density"].append(shot.measured.density.all)
        found["f1"].append(judged.f1)
        found["said"].append(sorted(warning.split(":")[0][:40] for warning in shot.measured.warnings))
        shots.append(shot)
    compared = compare_shots(shots[:1], shots[1:])
    found["said"].append(compared.comparable.verdict)
    found["change"] += [
        end
        for change in compared.changes
        if change.figure == "density all" and change.change_percent is not None
        for end in (change.change_percent, *(change.ci95_percent or ()))
    ]


def weights(trials_of: list[Trial], done: dict[str, Any]) -> dict[str, float | bool]:
    """What one constant moves, either way."""
    base = done[key(("", "", 1.0))]
    ways = [done[key(trial)] for trial in trials_of if key(trial) in done]
    together = [way for way in ways if len(way["density"]) == len(base["density"])]

    def most(figure: str, relative: bool) -> float:
        steps = [
            abs(now - was) / (abs(was) if relative else 1.0)
            for way in together
            if len(way[figure]) == len(base[figure])
            for now, was in zip(way[figure], base[figure], strict=True)
            if was
        ]
        return max(steps, default=0.0)

    return {
        "density": 100 * most("density", True),
        "f1": most("f1", False),
        "change": most("change", False),
        "verdict": any(way["said"] != base["said"] for way in ways),
    }


def print_table(wanted: list[Trial], done: dict[str, Any]) -> None:
    names = list(dict.fromkeys((package, name) for package, name, _ in wanted))
    rows = [(name, weights([t for t in wanted if t[:2] == name], done)) for name in names]
    print(f"\n{'constant':44} {'density %':>9} {'F1':>6} {'change':>6}  verdict")
    for (package, name), found in sorted(rows, key=lambda row: -row[1]["density"] - row[1]["change"]):
        figures = f"{found['density']:9.1f} {found['f1']:6.3f} {found['change']:6.1f}"
        print(f"{package + '.' + name:44} {figures}  {'another' if found['verdict'] else ''}")


def write_weights(done: dict[str, Any]) -> None:
    """A line of weights under each section's heading, in place of the one that stood there."""
    for package, figure in (("panel", "density"), ("comparison", "change"), ("film", "density")):
        path = HERE / "defectmap" / package / "tuning.py"
        head, *sections = re.split(r"(?m)^(?=# -- )", path.read_text(encoding="utf-8"))
        path.write_text(
            head + "".join(weighed(one, package, figure, done) for one in sections), encoding="utf-8"
        )


def weighed(section: str, package: str, figure: str, done: dict[str, Any]) -> str:
    """A section with the weights of its constants, the heaviest first."""
    heading, _, body = section.partition("\n")
    body = re.sub(r"\A# weight[^.]*?:(.|\n)*?\.\n(?=[^#]|# )", "", body)
    names = [name for line in re.findall(r"(?m)^([A-Z][A-Z0-9_, ]*) = ", body) for name in line.split(", ")]
    found = {
        name: weights([(package, name, factor) for factor in FACTORS], done)
        for name in names
        if all(key((package, name, factor)) in done for factor in FACTORS)
    }
    if not found:
        return section
    heavy = [name for name in found if found[name][figure] >= LEAST_TOLD or found[name]["f1"] >= LEAST_F1]
    heavy.sort(key=lambda name: -found[name][figure])
    said = [f"{name} {found[name][figure]:.2g} ({found[name]['f1']:.3f})" for name in heavy]
    light = [name for name in found if name not in heavy]
    verdicts = [name for name in light if found[name]["verdict"]]
    parts = [
        ", ".join(said),
        f"another warning or refusal by {', '.join(verdicts)}" if verdicts else "",
        f"{len(light)} less" if light else "",
        f"{len(names) - len(found)} not tried" if len(found) < len(names) else "",
    ]
    unit = {"density": "% of density (F1)", "change": "points of change (F1)"}[figure]
    words = f"weight, {unit}: {'; '.join(part for part in parts if part)}."
    lines = textwrap.wrap(words, 108, break_on_hyphens=False)
    return "\n".join((heading, *(f"# {line}" for line in lines), body))


def read(path: Path) -> dict[str, Any]:
    if not path.is_file():
        return {}
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    return {line.pop("trial"): line for line in lines}


if __name__ == "__main__":
    sys.path.insert(0, str(HERE))
    main()
