"""Untouched paint, one photograph processed: does a comparison find a change that is not there?

    python benchmarks/compare_processing.py [--panels 2] [--workers 2] [--cases "ISO 160" denoised ...]

Analytic photographs of one panel, taken twice by hand, the lamp moved by some mm. The second goes through
what a phone or an app does: noise reduction, sharpening, tone curves, a messenger's copy, another
sensitivity with the exposure kept. Prints change, interval, verdict and reasons, then a line for each case;
the truth is no change.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from defectmap.comparison.compare import Shot, compare_shots, measured_shot
from defectmap.errors import PhotoError
from defectmap.panel.photo.photograph import load
from tests import phantom

Codes = NDArray[np.uint8]
PX_PER_MM = 20.0
PAINTS = {
    "black": phantom.Panel(seed=3, orange_peel_rad=0.0015),
    "white": phantom.Panel(seed=4, body=(0.5, 0.5, 0.49)),
    "silver": phantom.Panel(seed=5, body=(0.12, 0.12, 0.125), flake=0.6),
}


def sharpened(amount: float, sd: float) -> Callable[[Codes], Codes]:
    """Unsharp mask on codes, as phones apply it."""

    def apply(codes: Codes) -> Codes:
        plain = codes.astype(np.float32)
        return _codes(plain + amount * (plain - cv2.GaussianBlur(plain, (0, 0), sd)))

    return apply


def bent(power: float) -> Callable[[Codes], Codes]:
    """One tone curve for the whole picture."""
    return lambda codes: _codes(255 * (codes / 255.0) ** power)


def mapped(codes: Codes) -> Codes:
    """Local tone mapping: the slow part of the light is flattened, the fine part kept."""
    light = (codes / 255.0).astype(np.float32) ** 2.2 + 1e-5
    slow = cv2.GaussianBlur(np.log(light.mean(axis=2)), (0, 0), 40)
    return _codes(255 * np.clip(light * np.exp(-0.35 * slow)[..., None], 0, 1) ** (1 / 2.2))


def smaller(share: float) -> Callable[[Codes], Codes]:
    """What a messenger does before it squeezes."""
    return lambda codes: np.asarray(
        cv2.resize(codes, None, fx=share, fy=share, interpolation=cv2.INTER_AREA), np.uint8
    )


def _codes(values: NDArray[np.floating]) -> Codes:
    return np.asarray(np.clip(np.round(values), 0, 255), np.uint8)


# name: what is done, JPEG quality, size, ISO of the second photograph
CASES: dict[str, tuple[Callable[[Codes], Codes] | None, int, float, float]] = {
    "nothing": (None, 92, 1.0, 100.0),
    "ISO 125": (None, 92, 1.0, 125.0),
    "ISO 160": (None, 92, 1.0, 160.0),
    "ISO 250": (None, 92, 1.0, 250.0),
    "ISO 400": (None, 92, 1.0, 400.0),
    "smoothed": (lambda codes: cv2.bilateralFilter(codes, 7, 20, 2), 92, 1.0, 100.0),
    "denoised": (lambda c: cv2.fastNlMeansDenoisingColored(c, None, 5, 5, 5, 11), 92, 1.0, 100.0),
    "denoised hard": (lambda c: cv2.fastNlMeansDenoisingColored(c, None, 10, 10, 5, 11), 92, 1.0, 100.0),
    "sharpened": (sharpened(1.0, 1.0), 92, 1.0, 100.0),
    "sharpened hard": (sharpened(2.0, 1.5), 92, 1.0, 100.0),
    "darker curve": (bent(1.2), 92, 1.0, 100.0),
    "lighter curve": (bent(0.8), 92, 1.0, 100.0),
    "tone mapped": (mapped, 92, 1.0, 100.0),
    "messenger": (smaller(0.667), 72, 0.667, 100.0),
    "small messenger": (smaller(0.5), 60, 0.5, 100.0),
}


def taken(paint: str, seed: int, side: int, *, iso: float = 100.0) -> bytes:
    """One photograph by hand."""
    rng = np.random.default_rng([seed, side])
    grooves = phantom.swirls(seed + 1, density_mm_per_cm2=40) + phantom.scratches(seed + 1, count=5)
    shot = phantom.Shot(
        size_px=(1200, 1520),
        px_per_mm=PX_PER_MM,
        seed=int(rng.integers(1 << 30)),
        iso=iso,
        offset_mm=tuple(rng.normal(0, 1.5, 2)),
        turn_deg=float(rng.normal(0, 1.0)),
        lamp_mm=(-8 + rng.normal(0, 3), 6 + rng.normal(0, 3), 480 + rng.normal(0, 5)),
    )
    seen = phantom.photograph(grooves, shot, panel=PAINTS[paint])
    assert seen.jpeg is not None
    return seen.jpeg


def processed(jpeg: bytes, case: str) -> tuple[bytes, float]:
    """The file after what was done to it, and its new size; a messenger drops the camera's notes."""
    change, quality, share, _ = CASES[case]
    if change is None:
        return jpeg, share
    picture = Image.open(io.BytesIO(jpeg))
    notes = picture.info.get("exif") if share == 1.0 else None
    out = io.BytesIO()
    done = Image.fromarray(change(np.asarray(picture.convert("RGB"))))
    done.save(out, "JPEG", quality=quality, **({"exif": notes} if notes else {}))
    return out.getvalue(), share


def shot_of(data: bytes, name: str, share: float = 1.0) -> Shot:
    return measured_shot(load(data, name=name), px_per_mm=PX_PER_MM * share)


@dataclass(frozen=True)
class Tried:
    """One pair of untouched paint."""

    case: str
    text: str
    false: bool | None = None  # whether a change was found that is not there; None without a figure
    certain: bool = False  # whether the verdict is "yes"


def row(paint: str, seed: int, cases: Sequence[str]) -> list[Tried]:
    """Some cases of one panel."""
    before, lines = shot_of(taken(paint, seed, 0), "before.jpg"), []
    for case in cases:
        iso = CASES[case][-1]
        try:
            data, share = processed(taken(paint, seed, 1, iso=iso), case)
            after = shot_of(data, "after.jpg", share)
        except PhotoError as error:
            lines.append(Tried(case, f"{paint:7}{seed:3} {case:16} refused: {error}"))
            continue
        found = compare_shots([before], [after])
        said = ", ".join(f"{reason.code} {reason.verdict}" for reason in found.comparable.reasons)
        change = found.change("density all") if found.changes else None
        text = f"{paint:7}{seed:3} {case:16}{found.comparable.verdict:>10}"
        if change is None or change.change_percent is None or change.ci95_percent is None:
            lines.append(Tried(case, f"{text}  no figure  {said}"))
            continue
        low, high = change.ci95_percent
        text += f" {change.change_percent:+6.1f} ({low:+6.1f} to {high:+6.1f})"
        told = f"{text}{' FALSE' if change.distinguishable else ''}  {said}"
        lines.append(Tried(case, told, bool(change.distinguishable), found.comparable.verdict == "yes"))
    return lines


def main() -> None:
    """Print a line for each case."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--panels", type=int, default=2)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--cases", nargs="+", choices=tuple(CASES), default=tuple(CASES))
    asked = parser.parse_args()
    seeds = range(asked.first_seed, asked.first_seed + asked.panels)
    jobs = [(paint, seed, asked.cases) for paint in PAINTS for seed in seeds]
    pairs: list[Tried] = []
    with ProcessPoolExecutor(asked.workers) as pool:
        for tried in pool.map(row, *zip(*jobs, strict=True)):
            for one in tried:
                print(one.text, flush=True)
            pairs += tried
    for case in (*asked.cases, None):
        group = [one for one in pairs if case in (one.case, None)]
        given = [one for one in group if one.false is not None]
        print(
            f"{case or 'all':16} {len(group):3} pairs of untouched paint, {len(given):3} figures, "
            f"{sum(one.certain for one in given):3} with 'yes', {sum(bool(one.false) for one in given)} false"
        )


if __name__ == "__main__":
    main()
