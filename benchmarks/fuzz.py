#!/usr/bin/env python3
"""Fuzz the photo doors: damaged, hostile and odd files through reading, measuring and the JSON record, through the
camera clock that the job record reads, and through the small picture that the pages draw.

    python benchmarks/fuzz.py --cases 20000 --seed 1 [--films 1000] [--large 40] [--cut] [--jobs 16] [--save FOLDER]

Each case is made from `(seed, number)` alone, so `--only N` repeats one. Cases run in forked children: a child
that hangs or dies costs one case. Allowed outcomes are a measurement or an error of the program's own family.
Everything else is a finding: another exception, death by signal, more than 10 s of computing (60 for films and large ones), more than 2 GB, a figure that
is not finite or out of its range, a sentence with control characters, JSON that cannot be written, or (`--cut`:
each kind of file cut at every percent) a cut file that is taken for whole though its pixels differ.
Exit status 1 where anything was found. CI runs 300 cases (`tests/test_fuzz.py`); run 20,000 before a release.
`--films N` does the same with films, which go through a file, as they do in use. `--hostile N` tries N files that
are built to hurt (`fuzz_hostile`), a fifth of them films, through the command `defectmap measure` itself.
"""

from __future__ import annotations

import argparse
import collections
import json
import math
import os
import pickle
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
import traceback
import warnings
from pathlib import Path

for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "OPENCV_FOR_THREADS_NUM"):
    os.environ.setdefault(variable, "1")

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from benchmarks.fuzz_damage import damaged_case
from benchmarks.fuzz_files import large_files, sound_files
from benchmarks.fuzz_films import film_case, sound_films
from benchmarks.fuzz_hostile import hostile_case
from defectmap.errors import DefectmapError
from defectmap.film.measure_film import measure_film
from defectmap.film.reading import open_film
from defectmap.pages.images import preview_jpeg
from defectmap.panel.codec import json_text, measurement_record
from defectmap.panel.measure import measure
from defectmap.panel.photo import photograph as photo

try:
    from defectmap.record.intake import camera_time
except ImportError:  # a machine that is lent for the computing alone may lack the record's libraries
    camera_time = None

LIMIT_S, LARGE_LIMIT_S = 10, 60
WAITING_FACTOR = 12  # a decoder in another process is waited for, and the machine may be busy
LIMIT_BYTES = 2_000_000_000
ADDRESS_SPACE = 8 << 30  # a last guard only: a lower one would turn findings into MemoryError
BATCH = 250
MOST_FRAMES = 12  # of a damaged film that is only read

GIVEN = {"film": lambda _: sound_films(), "hostile": lambda files: files | sound_films()}


def make_case(
    seed: int, number: int, files: dict[str, bytes], mode: str
) -> tuple[str, str, bytes, float | None, bool]:
    """What is tried: a description, a file name, bytes, a scale, and whether it must be measured."""
    if mode == "film":
        return film_case(seed, number, files)
    if mode == "hostile":
        films = number % 5 == 0
        chosen = {name: data for name, data in files.items() if name.startswith("film") is films}
        return hostile_case(seed, number, chosen, films=films)
    if mode == "large":
        what, data = large_files(random.Random(f"{seed}:{number}:{mode}"))
        return what, "large.png", data, None, True
    return damaged_case(seed, number, files, mode)


def nonsense(record: dict, shape: tuple[int, int]) -> str | None:
    """A figure out of its range in a record of a photograph that was measured, or None."""
    for key, value in record["density_mm_per_cm2"].items():
        if value is None or value < 0:
            return f"density {key} is {value}"
    ranges = {"haze": (0, 1e6), "longest_scratch_mm": (0, 1e12), "score": (0, 100)}
    for key, (low, high) in ranges.items():
        if record[key] is not None and not low <= record[key] <= high:
            return f"{key} is {record[key]}"
    scored = record["score"] is not None or "film" in record or record["scale"]["source"] == "none"
    if not scored or record["haze"] is None:
        return "score or haze is null in a measured photograph"
    if not (record["zone"]["area_cm2"] or 0) > 0:
        return f"area is {record['zone']['area_cm2']}"
    for mark in record["marks"]:
        if any(mark[key] is None or mark[key] < 0 for key in ("length_mm", "width_mm", "contrast_to_noise")):
            return f"mark holds { ({k: mark[k] for k in mark if k != 'points'}) }"
        points = np.array(mark["points"])
        if points.min() < -0.5 or points[:, 0].max() > shape[1] - 0.5 or points[:, 1].max() > shape[0] - 0.5:
            return "points of a mark lie outside the picture"
    facts = record["photo"]
    for key in ("exposure_s", "iso", "f_number", "focal_length_mm"):
        if facts[key] is not None and facts[key] <= 0:
            return f"{key} is {facts[key]}"
    return None


def attempt(
    name: str,
    data: bytes,
    scale: float | None,
    *,
    measured: bool,
    whole: bytes | None = None,
    mode: str = "small",
) -> tuple[str, str]:
    """Outcome and detail of one file; outcomes other than measured, loaded and refused are findings."""
    try:
        if mode == "film":
            return attempt_film(name, data, scale, measured=measured)
        if mode == "hostile":
            return attempt_command(name, data, scale)
        shot = photo.load(data, name=name)
        if whole is not None and not np.array_equal(shot.rgb, photo.load(whole, name=name).rgb):
            return "cut file taken for whole", name
        if not measured:
            return "loaded", ""
        found = measure(shot, px_per_mm=scale)
    except DefectmapError as error:
        words = str(error)
        if any(not c.isprintable() for c in words.replace(name, "")) or len(words.replace(name, "")) > 500:
            return "odd sentence", words[:200]
        return "refused", type(error).__name__
    return judged(measurement_record(found), shot.luminance.shape)


def attempt_film(name: str, data: bytes, scale: float | None, *, measured: bool) -> tuple[str, str]:
    """As `attempt`, of a film; one that is not measured is opened, and its first frames are read."""
    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.path.isdir("/dev/shm") else None) as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        if not measured:
            for frame in open_film(path).frames():
                if frame.number >= MOST_FRAMES:
                    break
            return "loaded", ""
        found = measure_film(path, px_per_mm=scale).panel
        record = measurement_record(found)
        return judged(record, (record["photo"]["height_px"], record["photo"]["width_px"]))


def attempt_command(name: str, data: bytes, scale: float | None) -> tuple[str, str]:
    """One file through `defectmap measure --json`; it ends well, or with status 3 and a sentence."""
    from typer.testing import CliRunner

    from defectmap.commands.program import app

    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.path.isdir("/dev/shm") else None) as folder:
        path, out = Path(folder) / name, Path(folder) / "out.json"
        path.write_bytes(data)
        asked = [] if scale is None else ["--px-per-mm", str(scale)]
        done = CliRunner().invoke(app, ["measure", str(path), "--json", str(out), *asked])
        if done.exception is not None and not isinstance(done.exception, SystemExit):
            raise done.exception
        if done.exit_code not in (0, 3) or not out.exists():
            return f"exit {done.exit_code}", done.output[-200:]
        record = json.loads(out.read_text("utf-8"))
    if record["refused"] is None and done.exit_code == 0:
        return judged(record, (record["photo"]["height_px"], record["photo"]["width_px"]))
    odd = [c for c in record["refused"] or "\0" if not c.isprintable()]
    return (
        ("odd sentence", record["refused"][:200])
        if odd or "unexpected" in record["refused"]
        else ("refused", "")
    )


def judged(record: dict, shape: tuple[int, int]) -> tuple[str, str]:
    """Whether a measurement can be written and its figures be right."""
    text = json_text(record, ascii_only=True)
    json.loads(text)
    problem = nonsense(record, shape)
    return ("nonsense", problem) if problem else ("measured", "")


def other_doors(name: str, data: bytes, folder: Path) -> None:
    """What the record and the pages read of a photograph, each by a way of its own; an exception is a finding."""
    file = folder / "upload"
    file.write_bytes(data)
    for door in filter(None, (camera_time, preview_jpeg)):
        try:
            door(file)
        except Exception as error:
            raise type("At" + door.__name__, (Exception,), {})(f"{type(error).__name__}: {error}") from error


def without_numbers(detail: str) -> str:
    """What happened and where, alike for all files that do it: the numbers in the message go, those of lines stay."""
    message, at, place = detail.partition(" at ")
    return re.sub(r"(0x[0-9a-f]+|b?'[^']*'|-?\d+(\.\d+)?)", "N", message) + at + place


def peak_bytes() -> int:
    return int(re.search(r"VmHWM:\s+(\d+)", Path("/proc/self/status").read_text())[1]) * 1024


def limit_of(mode: str) -> int:
    """Seconds of computing that a case may take: films and large pictures more than others."""
    return LARGE_LIMIT_S if mode in ("large", "film", "hostile") else LIMIT_S


def child(
    pipe: int, numbers: range, seed: int, files: dict[str, bytes], share: float, mode: str, quiet: bool
) -> None:
    """Try cases in order, telling the parent of each before and after."""
    resource.setrlimit(resource.RLIMIT_AS, (ADDRESS_SPACE, ADDRESS_SPACE))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    for alarm in (signal.SIGALRM, signal.SIGPROF):
        signal.signal(alarm, signal.SIG_DFL)  # kills, also inside a C library
    noise = tempfile.TemporaryFile() if quiet else None  # noqa: SIM115
    folder = Path(tempfile.mkdtemp(prefix="fuzz-", dir="/dev/shm" if os.path.isdir("/dev/shm") else None))
    if noise:
        os.dup2(noise.fileno(), 2)
    with os.fdopen(pipe, "wb") as tell:
        for number in numbers:
            what, name, data, scale, chosen = make_case(seed, number, files, mode)
            whole = files[name] if mode == "cut" else None
            measured = (
                chosen
                if mode == "film"
                else mode == "large" or (chosen and random.Random(f"m{seed}:{number}").random() < 2 * share)
            )
            pickle.dump(("start", number, what), tell)
            tell.flush()
            Path("/proc/self/clear_refs").write_text("5")
            before_s, at = time.process_time(), os.lseek(2, 0, os.SEEK_CUR) if noise else 0
            limit_s = limit_of(mode)
            signal.setitimer(
                signal.ITIMER_PROF, limit_s
            )  # of computing: the machine may be busy with other work
            signal.alarm(WAITING_FACTOR * limit_s)
            with warnings.catch_warnings(record=True) as said:
                warnings.simplefilter("always")
                try:
                    outcome, detail = attempt(name, data, scale, measured=measured, whole=whole, mode=mode)
                    if mode != "large":
                        other_doors(name, data, folder)
                except BaseException as error:
                    frames = traceback.extract_tb((error.__cause__ or error).__traceback__)[-3:]
                    places = " < ".join(
                        f"{Path(f.filename).name}:{f.lineno} {f.name}" for f in reversed(frames)
                    )
                    outcome, detail = "exception", f"{type(error).__name__}: {str(error)[:160]} at {places}"
            signal.setitimer(signal.ITIMER_PROF, 0)
            signal.alarm(0)
            took, peak = time.process_time() - before_s, peak_bytes()
            shown = os.lseek(2, 0, os.SEEK_CUR) - at if noise else 0
            talk = sorted(
                {
                    f"{w.category.__name__}: {str(w.message)[:90]} ({Path(w.filename).name}:{w.lineno})"
                    for w in said
                }
            )
            pickle.dump(("end", number, what, outcome, detail, took, peak, shown, talk), tell)
            tell.flush()
    shutil.rmtree(folder)


def run(numbers: range, options: argparse.Namespace, files: dict[str, bytes], mode: str) -> dict:
    """Run the cases in children of `BATCH`; returns counts, findings, and the slowest and the hungriest."""
    counts, kinds, findings, talk = collections.Counter(), collections.Counter(), {}, collections.Counter()
    slowest, hungriest, noisy = (0.0, -1, ""), (0, -1, ""), 0
    at, last, told = numbers.start, time.monotonic(), 0
    while at < numbers.stop and time.monotonic() < options.until_s:
        read, write = os.pipe()
        upto = min(numbers.stop, at + (1 if mode == "large" else BATCH))
        process = os.fork()
        if process == 0:
            os.close(read)
            try:
                child(
                    write, range(at, upto), options.seed, files, options.measure_share, mode, not options.loud
                )
            except BaseException:
                traceback.print_exc(file=sys.__stdout__)
                os._exit(9)
            os._exit(0)
        os.close(write)
        current = None
        with os.fdopen(read, "rb") as heard:
            while True:
                try:
                    message = pickle.load(heard)
                except (EOFError, pickle.UnpicklingError):
                    break
                if message[0] == "start":
                    current = message
                    continue
                _, number, what, outcome, detail, took, peak, shown, said = message
                current, at = None, number + 1
                counts[outcome] += 1
                kinds[what.split(" / ")[0], outcome] += 1
                talk.update(said)
                noisy += shown > 0
                slowest, hungriest = max(slowest, (took, number, what)), max(hungriest, (peak, number, what))
                if outcome not in ("measured", "loaded", "refused"):
                    findings.setdefault(f"{outcome}: {without_numbers(detail)}", []).append((number, what))
                if peak > LIMIT_BYTES:
                    findings.setdefault(f"memory above 2 GB ({outcome})", []).append(
                        (number, f"{what}: {peak / 1e9:.2f} GB, {took:.1f} s")
                    )
                if took > limit_of(mode):
                    findings.setdefault(f"slower than {limit_of(mode)} s ({outcome})", []).append(
                        (number, f"{what}: {took:.1f} s")
                    )
        _, status = os.waitpid(process, 0)
        if os.WIFEXITED(status) and os.WEXITSTATUS(status) == 9:
            raise SystemExit("the harness itself failed; see above")
        if current is not None:
            _, number, what = current
            died = signal.Signals(os.WTERMSIG(status)).name if os.WIFSIGNALED(status) else f"exit {status}"
            counts[died] += 1
            findings.setdefault(
                f"killed by {died}{' (hang)' if died in ('SIGALRM', 'SIGPROF') else ''}", []
            ).append((number, what))
            at = number + 1
        for words in [*findings][told:]:
            print(f"  found: {words}, case {findings[words][0][0]}", file=sys.stderr, flush=True)
        told = len(findings)
        if time.monotonic() - last > 30:
            last = time.monotonic()
            print(
                f"  … {at} of {numbers.stop}, {len(findings)} kinds of finding", file=sys.stderr, flush=True
            )
    return {"counts": counts, "kinds": kinds, "findings": findings, "talk": talk, "slowest": slowest,
            "hungriest": hungriest, "noisy": noisy}  # fmt: skip


def run_in_jobs(numbers: range, options: argparse.Namespace, files: dict[str, bytes], mode: str) -> dict:
    """`run`, shared out to so many processes."""
    if options.jobs == 1:
        return run(numbers, options, files, mode)
    parts = []
    for job in range(options.jobs):
        first, after = (numbers.stop * k // options.jobs for k in (job, job + 1))
        read, write = os.pipe()
        process = os.fork()
        if process == 0:
            os.close(read)
            with os.fdopen(write, "wb") as tell:
                pickle.dump(run(range(first, after), options, files, mode), tell)
            os._exit(0)
        os.close(write)
        parts.append((process, read))
    whole: dict = {}
    for process, read in parts:
        with os.fdopen(read, "rb") as heard:
            whole = joined(whole, pickle.load(heard))
        os.waitpid(process, 0)
    return whole


def joined(one: dict, other: dict) -> dict:
    """Two results of `run` as one."""
    if not one:
        return other
    findings = {
        key: one["findings"].get(key, []) + other["findings"].get(key, [])
        for key in one["findings"] | other["findings"]
    }
    largest = {key: max(one[key], other[key]) for key in ("slowest", "hungriest")}
    return (
        {key: one[key] + other[key] for key in ("counts", "kinds", "talk", "noisy")}
        | largest
        | {"findings": findings}
    )


def show(title: str, result: dict, options: argparse.Namespace, files: dict[str, bytes], mode: str) -> int:
    counts, findings = result["counts"], result["findings"]
    print(
        f"{title}: {sum(counts.values())} cases: "
        + ", ".join(f"{n} {what}" for what, n in counts.most_common())
    )
    print(f"  slowest {result['slowest'][0]:.2f} s (case {result['slowest'][1]}, {result['slowest'][2]}); "
          f"most memory {result['hungriest'][0] / 1e6:.0f} MB (case {result['hungriest'][1]}, {result['hungriest'][2]})")  # fmt: skip
    print(f"  cases in which a library wrote to standard error: {result['noisy']}")
    for words, number in result["talk"].most_common(8):
        print(f"  Python warning, {number} times: {words}")
    for words, cases in sorted(findings.items(), key=lambda item: -len(item[1])):
        print(f"  FINDING, {len(cases)} times: {words}")
        print("     e.g. " + "; ".join(f"case {number} ({what})" for number, what in cases[:4]))
        if options.save:
            options.save.mkdir(parents=True, exist_ok=True)
            for number, _ in cases[:3]:
                _, name, data, _scale, _ = make_case(options.seed, number, files, mode)
                suffix = Path(name).suffix if name.isascii() and name.isprintable() else ".bin"
                (options.save / f"{mode}-{options.seed}-{number}{suffix}").write_bytes(data)
    return len(findings)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cases", type=int, default=5000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--films", type=int, default=0, help="cases with films")
    parser.add_argument("--hostile", type=int, default=0, help="cases with files that are built to hurt")
    parser.add_argument("--jobs", type=int, default=1, help="processes that share the cases")
    parser.add_argument("--large", type=int, default=0, help="cases with large pictures and bombs")
    parser.add_argument(
        "--cut", action="store_true", help="also each kind cut at every percent of its length"
    )
    parser.add_argument(
        "--measure-share",
        type=float,
        default=0.35,
        help="share of small pictures that are measured, not only read",
    )
    parser.add_argument("--save", type=Path, help="keep files that gave findings in this folder")
    parser.add_argument("--only", type=int, help="repeat one case, in this process, and show what it does")
    parser.add_argument(
        "--loud", action="store_true", help="do not hide what libraries write to standard error"
    )
    parser.add_argument(
        "--seconds", type=float, default=math.inf, help="stop each part after so long, between batches"
    )
    options = parser.parse_args()
    cv2.setNumThreads(1)  # children are forked
    files = sound_files()
    if options.only is not None:
        mode = (
            "film"
            if options.films
            else "hostile"
            if options.hostile
            else "large"
            if options.large
            else "cut"
            if options.cut
            else "small"
        )
        files = files if mode not in GIVEN else GIVEN[mode](files)
        what, name, data, scale, _ = make_case(options.seed, options.only, files, mode)
        print(what, repr(name), len(data), "bytes, scale", scale)
        with tempfile.TemporaryDirectory() as folder:
            other_doors(name, data, Path(folder))
        print(
            attempt(name, data, scale, measured=True, whole=files[name] if mode == "cut" else None, mode=mode)
        )
        return 0
    if camera_time is None:
        print("The record's door is left out: its libraries are not installed.")
    started, found = time.monotonic(), 0
    wanted = {
        "small": options.cases,
        "cut": 99 * len(files) * options.cut,
        "large": options.large,
        "film": options.films,
        "hostile": options.hostile,
    }
    for mode, number in wanted.items():
        if number:
            options.until_s = time.monotonic() + options.seconds
            given = files if mode not in GIVEN else GIVEN[mode](files)
            found += show(mode, run_in_jobs(range(number), options, given, mode), options, given, mode)
    took = time.monotonic() - started
    print(f"{found} kinds of finding in {took:.0f} s, seed {options.seed}")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
