"""Small stand-ins: photographs of a few bytes, and measuring functions that need no picture."""

from __future__ import annotations

import hashlib
import os
import time
from pathlib import Path

from defectmap.errors import NoHotspot
from defectmap.record.comparisons import CompareRequest
from defectmap.record.measuring import PhotoRequest
from defectmap.record.panels import PanelSpec

VERSION = "0.1.0"
PANELS = (
    PanelSpec(name="bonnet", area_m2=1.5, material="steel"),
    PanelSpec(name="roof", area_m2=1.8, material="steel"),
)


MARK = {
    "kind": "swirl",
    "polarity": "bright",
    "length_mm": 1.5,
    "width_mm": 0.1,
    "contrast": 0.4,
    "contrast_to_noise": 6.0,
    "points": [[1.0, 2.0], [3.0, 4.0]],
}
CHANGE = {
    "before": 10.0,
    "after": 2.0,
    "change_percent": -80.0,
    "ci95_percent": [-85.0, -70.0],
    "distinguishable": True,
    "at_least_percent": None,
}
FIGURES = {
    "density_mm_per_cm2": {"all": CHANGE, "swirl": CHANGE, "scratch": CHANGE},
    "longest_scratch_mm": CHANGE,
    "haze": CHANGE,
    "score": CHANGE,
}


def photo(folder: Path, number: int, *, size: int = 3000) -> Path:
    """A file whose bytes follow from its number."""
    block = hashlib.sha256(str(number).encode()).digest()
    file = folder / f"shot_{number:04d}.jpg"
    file.write_bytes((block * (size // 32 + 1))[:size])
    return file


def measure(request: PhotoRequest) -> dict[str, object]:
    """A result in the published form whose figures follow from the photograph's hash."""
    first = request.path.read_bytes()[0]
    swirl, scratch = first / 10, first / 100
    return {
        "schema": 1,
        "photo": {
            "name": request.name,
            "sha256": request.sha256,
            "width_px": 10,
            "height_px": 10,
            "taken": None,
        },
        "scale": {"px_per_mm": request.px_per_mm or 1.0, "source": "typed" if request.px_per_mm else "none"},
        "hotspot": {"x": 5.0, "y": 5.0, "radius_px": 1.0, "lamps": 1},
        "zone": {"mask_png": None, "area_cm2": 10.0},
        "detection_limit": {
            "contrast_to_noise": 3.0,
            "length_mm": 1.0,
            "contrast": 0.1,
            "equivalent_width_um": 50.0,
        },
        "strength_mm_per_cm2": {"50": swirl, "100": swirl, "200": scratch, "400": scratch},
        "faint_marks": [],
        "warning_details": [],
        "marks": [MARK],
        "spots": [],
        "rings": [],
        "density_mm_per_cm2": {"swirl": swirl, "scratch": scratch, "trail": 0.0, "all": swirl + scratch},
        "longest_scratch_mm": 4.0,
        "haze": 0.05,
        "score": 60.0,
        "warnings": [],
        "refused": None,
    }


def refuse(request: PhotoRequest) -> dict[str, object]:
    raise NoHotspot(f"No lamp reflection in {request.name}; take it again with the lamp in the frame.")


def measure_one_then_die(request: PhotoRequest) -> dict[str, object]:
    """The first photograph is measured; the process dies of each other, once the first is surely kept."""
    first = request.path.parents[2] / "first-is-measured"
    if request.name.endswith("0000.jpg"):
        first.touch()
        return measure(request)
    while not first.exists():
        time.sleep(0.05)
    time.sleep(2)
    os._exit(1)


def stumble(request: PhotoRequest) -> dict[str, object]:
    """A fault of ours in one photograph."""
    if request.name.endswith("0001.jpg"):
        raise ZeroDivisionError("division by zero")
    return measure(request)


def compare(request: CompareRequest) -> dict[str, object]:
    """A comparison in the published form, of photographs that are named and nothing else."""
    sides = {
        side: [{"photo": {"name": p.name}} for p in getattr(request, side)] for side in ("before", "after")
    }
    pose = {"by": "marks", "sureness": 9.0, "turn_deg": 0.0, "right_mm": 0.0, "down_mm": 0.0, "scale": 1.0}
    spot = {"comparable": "yes", "alignment": pose, "common_area_cm2": 10.0, **FIGURES}
    return {
        "comparable": "yes",
        "reasons": [],
        "reason_details": [],
        "scope": "this spot",
        "claim": {"word": request.claim.word, "reason": ""},
        **FIGURES,
        "rebound": None,
        "setup": None,
        "warnings": [],
        "spots": [spot for _ in request.before],
        **{side: found[0] if len(found) == 1 else found for side, found in sides.items()},
    }
