"""Films for tests of record, pages and report: small files, and what stands in for measuring them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from defectmap.film.assembling import FilmMeasurement
from defectmap.record.measuring import PhotoRequest
from tests.film.fields import straight_lines
from tests.film.measured import measured
from tests.phantom.film import write_film

LINES = straight_lines(3, 120)
SHOWN = {"before.mp4": LINES, "after.mp4": LINES[:70]}


def film_files(folder: Path) -> dict[str, Path]:
    """A film file before and one after; what they are taken to show is told by their names."""
    for number, name in enumerate(SHOWN):
        grey = np.random.default_rng(number).integers(0, 255, (480, 640, 3), np.uint8)
        write_film([np.asarray(cv2.GaussianBlur(grey, (0, 0), 3), np.uint8)] * 3, folder / name)
    return {name: folder / name for name in SHOWN}


def stand_in(request: PhotoRequest) -> FilmMeasurement:
    """What a film of that name shows, for `measuring.film_measured`."""
    found = measured(SHOWN[request.name], phase=float(request.name == "after.mp4"), name=request.name)
    light = np.random.default_rng(1).integers(0, 90, found.fused.shape, dtype=np.uint8)
    photo = replace(found.panel.photo, sha256=request.sha256)
    return replace(found, panel=replace(found.panel, photo=photo), fused=light)
