"""A phantom as files: the JPEG beside a JSON of its truth, x and y in pixels of the picture."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tests.phantom.scene import Phantom


def truth_record(phantom: Phantom) -> dict[str, Any]:
    """What is true of a photograph, as plain values for JSON.

    Parameters
    ----------
    phantom : Phantom

    Returns
    -------
    dict
        ``px_per_mm``, ``width_px``, ``height_px``, ``hotspot`` (x, y), ``saturated_radius_px``, ``visible``
        (kind, polarity, length_mm, cnr, points as [x, y]), ``visible_mm`` and ``groove_mm`` (by kind),
        ``spots``, ``panel`` and ``shot``.
    """
    kinds = ("swirl", "scratch", "trail")
    height, width = phantom.clean.shape
    visible = [
        {
            "kind": p.kind,
            "polarity": p.polarity,
            "length_mm": round(p.length_mm, 3),
            "cnr": round(p.cnr, 2),
            "points": p.points[:, ::-1].round(2).tolist(),
        }
        for p in phantom.visible
    ]
    return {
        "px_per_mm": phantom.shot.px_per_mm,
        "width_px": width,
        "height_px": height,
        "hotspot": {"x": round(phantom.hotspot.column, 3), "y": round(phantom.hotspot.row, 3)},
        "saturated_radius_px": round(phantom.hotspot.radius_px, 2),
        "visible": visible,
        "visible_mm": {k: sum(p.length_mm for p in phantom.visible if p.kind == k) for k in kinds},
        "groove_mm": {k: phantom.groove_mm.get(k, 0.0) for k in kinds},
        "spots": [
            {"kind": s.kind, "x": s.column, "y": s.row, "diameter_mm": s.diameter_mm} for s in phantom.spots
        ],
        "panel": asdict(phantom.panel),
        "shot": asdict(phantom.shot),
    }


def write(phantom: Phantom, folder: Path, *, name: str) -> Path:
    """Write ``NAME.jpg`` and ``NAME.truth.json`` into an existing folder and return the picture's path.

    Raises
    ------
    ValueError
        The phantom was made without a JPEG.
    """
    if phantom.jpeg is None:
        raise ValueError("this phantom has no JPEG; set jpeg_quality in its Shot")
    picture = folder / f"{name}.jpg"
    picture.write_bytes(phantom.jpeg)
    (folder / f"{name}.truth.json").write_text(json.dumps(truth_record(phantom)), encoding="utf-8")
    return picture
