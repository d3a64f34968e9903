"""Time and memory of loading a photograph, as a ratio to decoding it.

`python benchmarks/loading.py [photo.jpg]`; without a photo it makes JPEGs of 12 and 48 megapixels (camera
noise on a gradient). Loads and decodes take turns, so other work on the machine falls on both. The search for
the scale card, which runs on every photo, is timed beside them. Answers are checked too.
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

import cv2
import numpy as np

from defectmap.panel.photo.photograph import load
from defectmap.panel.scale import from_card

ROUNDS = 9


def made_up_jpeg(width_px: int, height_px: int) -> bytes:
    rng = np.random.default_rng(1)
    base = np.linspace(20, 230, width_px, dtype=np.float32)
    picture = np.empty((height_px, width_px, 3), np.uint8)
    for row in range(height_px):
        picture[row] = np.clip(base[:, np.newaxis] + rng.normal(0, 3, (width_px, 3)), 0, 255)
    return cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()


def seconds(work: object, *arguments: object) -> float:
    start = time.perf_counter()
    work(*arguments)
    return time.perf_counter() - start


def compare(name: str, data: bytes) -> None:
    packed = np.frombuffer(data, np.uint8)
    photo = load(data)
    assert photo.rgb.shape == cv2.imdecode(packed, cv2.IMREAD_COLOR).shape
    assert from_card(photo) is None
    arrays_mb = sum(a.nbytes for a in (photo.rgb, photo.luminance, photo.clipped)) / 1e6
    turns = [
        (
            seconds(cv2.imdecode, packed, cv2.IMREAD_COLOR),
            seconds(load, data),
            seconds(from_card, photo),
        )
        for _ in range(ROUNDS)
    ]
    decode, whole, card = np.median(turns, axis=0) * 1e3
    ratio, card_ratio = np.median([(b / a, c / a) for a, b, c in turns], axis=0)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    print(
        f"{name} ({len(data) / 1e6:.1f} MB): imdecode {decode:.0f} ms, load {whole:.0f} ms, "
        f"ratio {ratio:.2f}; card search {card:.0f} ms, ratio {card_ratio:.2f}; "
        f"arrays {arrays_mb:.0f} MB, process {peak_mb:.0f} MB"
    )


def main() -> None:
    for name in sys.argv[1:]:
        compare(name, Path(name).read_bytes())
    if len(sys.argv) == 1:
        compare("12 megapixels", made_up_jpeg(4000, 3000))
        compare("48 megapixels", made_up_jpeg(8000, 6000))


if __name__ == "__main__":
    main()
