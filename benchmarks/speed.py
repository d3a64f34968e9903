#!/usr/bin/env python3
"""Time and memory of measuring a large photograph, as ratios that do not depend on the computer.

    python benchmarks/speed.py [--repeats N] [--skip-48mp] [--skip-sato]

The photograph is rendered here: 4000 x 3000 px of a swirled panel with the noise of a camera, as a JPEG of
quality 95. Its bytes for each pixel are printed, because a decoder is fast on an empty picture. Runs of the
program and of the yardstick take turns, and medians are compared, so that a busy computer slows both.

- against the decoder: `measure` of the bytes over `cv2.imdecode` of the same bytes (goal 5, limit 10);
- against scikit-image: `sato` at the width that we look for, then `skeletonize` of what is above its 98th
  percentile, over `measure` (at least 5); for bright lines alone, and for bright and dark ones, which is what
  `measure` finds;
- peak memory of a fresh process that measures 12 and 48 megapixels (12: at most 600 MB).
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from PIL import ExifTags, Image
from PIL.ExifTags import IFD

from defectmap import measure
from defectmap.panel.photo import photograph as photo
from tests.phantom import Shot, photograph, scratches, swirls

PX_PER_MM = 33.0
QUALITY = 95
ISO = 400
WIDTH_SD_PX = 1.5  # the one width that `ridges.kernel_bank` looks for

# A child inherits the peak of its parent in getrusage on Linux (kept across exec), so the kernel's own
# high-water mark of the child's memory is read where there is one.
MEASURE_ALONE = """
import sys
from defectmap import measure
measured = measure(sys.argv[1], px_per_mm=float(sys.argv[2]))
try:
    with open("/proc/self/status") as status:
        peak_kb = next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))
except OSError:
    import resource
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024 if sys.platform == "darwin" else 1)
print(peak_kb, measured.density.all)
"""


def render_12mp() -> bytes:
    """JPEG of a swirled panel, 4000 x 3000 px."""
    grooves = [*swirls(5, density_mm_per_cm2=150.0), *scratches(6, count=5)]
    shot = Shot(size_px=(3000, 4000), px_per_mm=PX_PER_MM, iso=ISO, ev=0.5)
    return encode(photograph(grooves, shot).rgb)


def enlarge_to_48mp(jpeg: bytes) -> bytes:
    """Twice the pixels each way, with fresh noise, because enlarging smooths what a camera would show."""
    rgb = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR_RGB)
    large = cv2.resize(rgb, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
    noise = np.random.default_rng(0).normal(0.0, 2.0, large.shape[:2]).astype(np.float32)[..., None]
    return encode(np.clip(large + noise, 0, 255).astype(np.uint8))


def encode(rgb: np.ndarray) -> bytes:
    """JPEG that tells its ISO, as a camera's does."""
    jpeg = cv2.imencode(".jpg", rgb[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1].tobytes()
    exif = Image.Exif()
    exif.get_ifd(IFD.Exif)[ExifTags.Base.ISOSpeedRatings] = ISO
    told = exif.tobytes()
    return jpeg[:2] + b"\xff\xe1" + (len(told) + 2).to_bytes(2, "big") + told + jpeg[2:]


@dataclass(frozen=True, slots=True)
class Taken:
    """Seconds by the clock, and of processors (all threads), which a busy computer changes less."""

    wall: float
    cpu: float


def seconds(task: Callable[[], object]) -> Taken:
    wall, cpu = time.perf_counter(), time.process_time()
    task()
    return Taken(time.perf_counter() - wall, time.process_time() - cpu)


def take_turns(tasks: dict[str, Callable[[], object]], *, repeats: int) -> dict[str, Taken]:
    """Median seconds of each task, run one after the other in turn; the first round only warms up."""
    taken: dict[str, list[Taken]] = {name: [] for name in tasks}
    for _ in range(repeats + 1):
        for name, task in tasks.items():
            taken[name].append(seconds(task))
    return {
        name: Taken(statistics.median(t.wall for t in times[1:]), statistics.median(t.cpu for t in times[1:]))
        for name, times in taken.items()
    }


def sato_and_skeleton(jpeg: bytes, *, dark: bool) -> None:
    from skimage.filters import sato
    from skimage.morphology import skeletonize

    luminance = photo.load(jpeg).luminance
    response = sato(luminance, sigmas=[WIDTH_SD_PX], black_ridges=dark)
    skeletonize(response > np.quantile(response, 0.98))


def peak_memory_mb(jpeg: bytes, *, px_per_mm: float) -> tuple[float, float, float]:
    """Peak MB, density and seconds of a fresh process that measures the file."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "panel.jpg"
        file.write_bytes(jpeg)
        start = time.perf_counter()
        command = [sys.executable, "-c", MEASURE_ALONE, str(file), str(px_per_mm)]
        said = subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
    return float(said[0]) / 1024, float(said[1]), time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--skip-48mp", action="store_true")
    parser.add_argument("--skip-sato", action="store_true")
    options = parser.parse_args()
    # In a process of its own: memory that rendering leaves behind would make decoding faster than it is.
    with ProcessPoolExecutor(1) as pool:
        jpeg = pool.submit(render_12mp).result()
    measured = measure(jpeg, px_per_mm=PX_PER_MM)
    # A benchmark of something that found nothing would say nothing.
    assert measured.density.all > 1.0, measured.density
    print(
        f"12 MP JPEG: {len(jpeg) / 12e6:.2f} bytes/px, {len(measured.marks)} marks, "
        f"{measured.density.all:.1f} mm/cm²"
    )
    code = np.frombuffer(jpeg, np.uint8)
    times = take_turns(
        {
            "measure": lambda: measure(jpeg, px_per_mm=PX_PER_MM),
            "decode": lambda: cv2.imdecode(code, cv2.IMREAD_COLOR),
        },
        repeats=options.repeats,
    )
    mine, decoder = times["measure"], times["decode"]
    print(
        f"measure {mine.wall:.2f} s, cv2.imdecode {decoder.wall:.3f} s: ratio {mine.wall / decoder.wall:.1f} "
        f"by the clock, {mine.cpu / decoder.cpu:.1f} in processor time"
    )
    if not options.skip_sato:
        bright, dark = (seconds(partial(sato_and_skeleton, jpeg, dark=dark)) for dark in (False, True))
        for name, wall, cpu in (
            ("bright lines", bright.wall, bright.cpu),
            ("bright and dark lines", bright.wall + dark.wall, bright.cpu + dark.cpu),
        ):
            print(
                f"sato + skeletonize, {name}, {wall:.1f} s: measure is {wall / mine.wall:.1f} times as fast "
                f"by the clock, {cpu / mine.cpu:.1f} in processor time"
            )
    files = [(12, jpeg, PX_PER_MM)]
    if not options.skip_48mp:
        files.append((48, enlarge_to_48mp(jpeg), 2 * PX_PER_MM))
    for megapixels, file, px_per_mm in files:
        peak, density, whole = peak_memory_mb(file, px_per_mm=px_per_mm)
        print(f"{megapixels} MP in a fresh process: peak {peak:.0f} MB, {whole:.1f} s, {density:.1f} mm/cm²")


if __name__ == "__main__":
    main()
