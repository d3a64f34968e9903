"""One paint through several phones: does the figure stay the paint's?

    python benchmarks/phones.py [--panels NAME ...] [--density 90] [--workers 2]

Four rendered panels (tests/phantom), before and after a correction, each through the phones of `PHONES`, held
by hand: place, turn and lamp differ a little from one to the next. Truth is every piece of groove whose
equivalent width is at least that of the standard over at least 1 mm, whatever the camera could show, inside
the zone that the program chose. Says for each photograph precision, recall, F1 and the density's error; for
each panel how far density and change spread over the phones, and how far they do so in the truth itself.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.accuracy import Line, evenly, inside, length_px, share_near, tree
from benchmarks.compare_processing import PAINTS
from benchmarks.processings import Codes, mapped, sharpened, smaller
from defectmap import measure
from defectmap.errors import PhotoError
from tests import phantom
from tests.rendered import file_of

PANELS = {**PAINTS, "hazy": phantom.Panel(seed=6, alpha=0.016, orange_peel_rad=0.002)}
FRAME_MM = (75.0, 100.0)
BESIDE_TRUTH = ("before", "after")


def _plain(codes: Codes) -> Codes:
    return codes


def _denoised(codes: Codes) -> Codes:
    """Grain taken away and edges sharpened, as phones do in poor light."""
    return sharpened(0.6, 1.0)(cv2.fastNlMeansDenoisingColored(codes, None, 2, 2, 5, 11))


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """How one phone takes and files a picture."""

    px_per_mm: float = 20.0
    iso: int = 64
    blur_px: float = 0.75
    ev: float = 0.0
    quality: int = 92
    after: Callable[[Codes], Codes] = _plain
    share: float = 1.0  # size of the file that is sent on, of the picture taken


PHONES = {
    "plain": Phone(),
    "denoised and sharpened": Phone(iso=125, after=_denoised),
    "far": Phone(px_per_mm=13.0),
    "far, sharpened": Phone(px_per_mm=12.0, after=sharpened(1.0, 1.2)),
    "far, sharpened hard": Phone(px_per_mm=10.0, after=sharpened(1.5, 1.5)),
    "sharpened hard": Phone(after=sharpened(1.5, 1.5)),
    "near": Phone(px_per_mm=28.0),
    "soft": Phone(blur_px=1.3),
    "messenger": Phone(after=smaller(0.66), share=0.66, quality=75),
    "tone mapped": Phone(iso=100, after=mapped, quality=85),
    "ISO 400": Phone(iso=400),
    "ISO 800": Phone(iso=800),
    "over by 1 EV": Phone(ev=1.0),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One photograph judged; lengths in mm, densities in mm/cm²."""

    panel: str
    phone: str
    when: str
    precision: float
    recall: float
    true: float
    got: float

    @property
    def f1(self) -> float:
        return 2 * self.precision * self.recall / max(self.precision + self.recall, 1e-9)

    @property
    def error_percent(self) -> float:
        return 100 * (self.got / self.true - 1) if self.true else float("nan")


def grooves(panel: str, when: str, density: float) -> tuple[phantom.Groove, ...]:
    """The panel's own grooves; a third of the swirl marks stay after the correction, shallower."""
    seed = 10 * sorted(PANELS).index(panel)
    made = (*phantom.swirls(seed, density_mm_per_cm2=density), *phantom.scratches(seed + 1, count=6))
    return made if when == "before" else phantom.polished(made, seed=seed, keep_share=0.35, shallower=0.85)


def photographed(panel: str, phone: str, when: str, density: float) -> tuple[phantom.Phantom, bytes]:
    """What the camera saw, with its truth, and the file that it wrote."""
    how = PHONES[phone]
    hand = np.random.default_rng([sorted(PANELS).index(panel), list(PHONES).index(phone), when == "after"])
    row, column = hand.normal(0, 2.0, 2)
    shot = phantom.Shot(
        size_px=(round(FRAME_MM[0] * how.px_per_mm), round(FRAME_MM[1] * how.px_per_mm)),
        px_per_mm=how.px_per_mm,
        iso=how.iso,
        blur_px=how.blur_px,
        ev=how.ev,
        lamp_mm=(-8.0 + row, 6.0 + column, 480.0),
        offset_mm=tuple(hand.normal(0, 1.5, 2)),
        turn_deg=float(hand.normal(0, 1.0)),
        jpeg_quality=None,
        seed=int(hand.integers(1 << 30)),
    )
    seen = phantom.photograph(grooves(panel, when, density), shot, panel=PANELS[panel])
    return seen, file_of(how.after(seen.rgb), kind="JPEG", quality=how.quality, iso=how.iso)


def judged(case: tuple[str, str, str, float]) -> Row | str:
    """Measure one photograph and hold it to its truth; a sentence where it is refused."""
    panel, phone, when, _ = case
    seen, file = photographed(*case)
    share = PHONES[phone].share
    scale = PHONES[phone].px_per_mm * share
    try:
        found = measure(file, px_per_mm=scale, name=f"{panel}, {phone}, {when}")
    except PhotoError as refused:
        return str(refused)
    truth = [evenly(piece.kind, _scaled(piece.points, share)) for piece in seen.standard]
    marks = [evenly(mark.kind, mark.points) for mark in found.marks]
    within = [inside(line, found.zone) for line in truth]
    mine = [inside(line, found.zone) for line in marks]
    area = float(found.zone.sum()) / scale**2 / 100
    return Row(
        panel=panel,
        phone=phone,
        when=when,
        precision=_near(mine, truth),
        recall=_near(within, marks),
        true=length_px(within) / scale / area,
        got=found.density.all,
    )


def _scaled(points: NDArray[np.float64], share: float) -> NDArray[np.float64]:
    return (points + 0.5) * share - 0.5


def _near(lines: Sequence[Line], others: Sequence[Line]) -> float:
    return share_near(lines, tree(others)) if length_px(lines) else float("nan")


def spread(rows: Iterable[Row]) -> list[str]:
    """One line a panel: density and change over its phones, and what the truth's own spread is."""
    by_panel: dict[str, dict[tuple[str, str], Row]] = {}
    for row in rows:
        by_panel.setdefault(row.panel, {})[row.phone, row.when] = row
    said = []
    for panel, all_of_it in by_panel.items():
        pairs = [
            (row, all_of_it[phone, "after"])
            for (phone, when), row in all_of_it.items()
            if when == "before" and (phone, "after") in all_of_it
        ]
        got, true = [b.got for b, _ in pairs], [b.true for b, _ in pairs]
        change = [100 * (a.got / b.got - 1) for b, a in pairs]
        wanted = [100 * (a.true / b.true - 1) for b, a in pairs]
        said.append(
            f"{panel}: {len(pairs)} phones, density {min(got):.2f} to {max(got):.2f} "
            f"({_times(got)}; truth {_times(true)}), change {_mean(change)} (truth {_mean(wanted)})"
        )
    return said


def _times(values: Sequence[float]) -> str:
    cv = 100 * statistics.stdev(values) / statistics.mean(values)
    return f"{max(values) / min(values):.2f} times, CV {cv:.1f} %"


def _mean(values: Sequence[float]) -> str:
    return f"{statistics.mean(values):.1f} %, SD {statistics.stdev(values):.1f}"


def main() -> None:
    """Run the panels and print what came of them."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--panels", nargs="*", default=sorted(PANELS), choices=sorted(PANELS))
    parser.add_argument("--phones", nargs="*", default=list(PHONES), choices=list(PHONES))
    parser.add_argument("--density", type=float, default=90.0, help="mm of groove per cm² before")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()
    cases = [(a, b, c, asked.density) for a in asked.panels for b in asked.phones for c in BESIDE_TRUTH]
    rows = []
    with ProcessPoolExecutor(asked.workers, initializer=cv2.setNumThreads, initargs=(1,)) as pool:
        for case, row in zip(cases, pool.map(judged, cases), strict=True):
            if isinstance(row, str):
                print(f"{', '.join(case[:3]):44} refused: {row}", flush=True)
                continue
            rows.append(row)
            print(
                f"{', '.join(case[:3]):44} F1 {row.f1:.3f}  precision {row.precision:.3f}"
                f"  recall {row.recall:.3f}"
                f"  true {row.true:.2f}  got {row.got:.2f}  error {row.error_percent:+.1f} %",
                flush=True,
            )
    print(*spread(rows), sep="\n")
    errors = [abs(row.error_percent) for row in rows]
    print(
        f"F1 mean {statistics.mean(row.f1 for row in rows):.3f}, lowest {min(row.f1 for row in rows):.3f}; "
        f"density off by {statistics.median(errors):.1f} % in the median, {max(errors):.1f} % at worst"
    )


if __name__ == "__main__":
    main()
