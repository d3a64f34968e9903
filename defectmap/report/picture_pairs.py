"""Pictures of a report: the same millimetres before and after, as JPEG without any metadata."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.align import Alignment
from defectmap.comparison.outcome import Comparability, SpotComparison
from defectmap.panel.measurement import (
    Density,
    DetectionLimit,
    Hotspot,
    Mark,
    PanelMeasurement,
    PhotoFacts,
    Scale,
)
from defectmap.panel.photo.photograph import Photo
from defectmap.pictures.crops import Centre, crop_pair
from defectmap.report.blurring import unreadable
from defectmap.report.content import Picture, PicturePair
from defectmap.report.privacy import PrivacyChoice
from defectmap.words.comparison_words import CROPS
from defectmap.words.remark import sentence
from defectmap.words.units import unit_names

SIDE_PX = 640
QUALITY = 88


def picture_pair(
    panel: str,
    before: Photo,
    after: Photo,
    spot: SpotComparison,
    *,
    choice: PrivacyChoice,
    centre: Centre = "hotspot",
) -> PicturePair:
    """The same piece of panel before and after.

    Parameters
    ----------
    panel : str
        Name of the panel (with its spot where there are several).
    before, after : Photo
        Of the spot.
    spot : SpotComparison
        How they lie on each other.
    choice : PrivacyChoice
        Boxes to be made unreadable.
    centre : {"hotspot", "worst scratch"}, optional
        See `defectmap.pictures.crops.crop_pair`.
    """
    shown = [_covered(photo, choice) for photo in (before, after)]
    pair = crop_pair(shown[0], shown[1], spot, centre=centre, side_px=SIDE_PX)
    unit = unit_names(spot.before.scale).length
    where = "about the lamp's reflection" if centre == "hotspot" else "about the longest mark before"
    about = f"{panel}, {pair.side_mm:.0f} {unit} of panel {where}"
    return PicturePair(
        panel=panel,
        before=jpeg_picture(
            pair.before, alt=f"Before: {about}, under the inspection lamp, scale bar drawn in."
        ),
        after=jpeg_picture(pair.after, alt=f"After: {about}, under the inspection lamp, scale bar drawn in."),
        caption=f"{about[0].upper()}{about[1:]}. {sentence(pair.remark, CROPS)}",
    )


def jpeg_picture(rgb: NDArray[np.uint8], *, alt: str) -> Picture:
    """A picture as JPEG; what is not in the pixels (place, time, camera) is not in the file."""
    from PIL import Image

    file = io.BytesIO()
    Image.fromarray(rgb).save(file, format="JPEG", quality=QUALITY, subsampling=0, optimize=True)
    return Picture(jpeg=file.getvalue(), width_px=rgb.shape[1], height_px=rgb.shape[0], alt=alt)


def kept_spot(
    record: Mapping[str, Any],
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    marks: Sequence[Mapping[str, Any]] = (),
) -> SpotComparison:
    """What crops need of a spot, from what a record keeps of it.

    Parameters
    ----------
    record : mapping
        One of `spots` in the JSON of a comparison.
    before, after : mapping
        The measurements of both sides in the same JSON.
    marks : sequence of mapping, optional
        Marks of the before photograph with their points, from its own measurement.
    """
    pose = record["alignment"]
    return SpotComparison(
        before=_kept(before, marks),
        after=_kept(after, ()),
        alignment=Alignment(
            by=pose["by"],
            sureness=pose["sureness"] or 0.0,
            marks_sureness=0.0,
            texture_sureness=0.0,
            turn_deg=pose["turn_deg"],
            down_mm=pose["down_mm"],
            right_mm=pose["right_mm"],
            scale=pose["scale"],
        ),
        comparable=Comparability(),
        common_area_cm2=record.get("common_area_cm2") or 0.0,
        changes=(),
    )


def _kept(record: Mapping[str, Any], marks: Sequence[Mapping[str, Any]]) -> PanelMeasurement:
    """A measurement without its zone, which the record does not keep; crops do not look at it."""
    photo, scale, spot = record["photo"], record["scale"], record["hotspot"]
    density, limit = record["density_mm_per_cm2"], record["detection_limit"]
    return PanelMeasurement(
        photo=PhotoFacts(
            name=photo["name"],
            sha256=photo["sha256"],
            width_px=photo["width_px"],
            height_px=photo["height_px"],
        ),
        scale=Scale(px_per_mm=scale["px_per_mm"], source=scale["source"]),
        hotspot=Hotspot(row=spot["y"], column=spot["x"], radius_px=spot["radius_px"], lamps=spot["lamps"]),
        zone=np.zeros((0, 0), dtype=bool),
        area_cm2=record["zone"]["area_cm2"],
        marks=tuple(_kept_mark(mark) for mark in marks),
        spots=(),
        density=Density(**{kind: density[kind] for kind in ("swirl", "scratch", "trail")}),
        rings=(),
        longest_scratch_mm=record["longest_scratch_mm"],
        haze=record["haze"],
        score=record["score"],
        detection_limit=DetectionLimit(**limit),
    )


def _kept_mark(mark: Mapping[str, Any]) -> Mark:
    points = np.asarray(mark["points"], dtype=np.float64).reshape(-1, 2)[:, ::-1]
    names = ("kind", "polarity", "length_mm", "width_mm", "contrast", "contrast_to_noise")
    return Mark(points=points, **{name: mark[name] for name in names})


def _covered(photo: Photo, choice: PrivacyChoice) -> Photo:
    boxes = choice.blurred.get(photo.facts.sha256, ())
    return replace(photo, rgb=unreadable(photo.rgb, boxes)) if boxes else photo
