"""Pictures of a report: the same millimetres before and after, as JPEG without any metadata."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from defectmap.comparison.outcome import SpotComparison
from defectmap.panel.photo.photograph import Photo
from defectmap.pictures.crops import Centre, crop_pair
from defectmap.pictures.files import picture_file
from defectmap.report.content import PicturePair, PrintedPicture
from defectmap.report.privacy import PrivacyChoice
from defectmap.words.comparison_words import CROPS
from defectmap.words.remark import sentence
from defectmap.words.writer import ENGLISH, Writer

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
    writer: Writer = ENGLISH,
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
    writer : Writer, optional
        Of the shop.
    """
    shown = [replace(photo, rgb=choice.covered(photo.rgb, photo.facts.sha256)) for photo in (before, after)]
    in_inches = writer.length_unit == "in"
    pair = crop_pair(shown[0], shown[1], spot, centre=centre, side_px=SIDE_PX, inches=in_inches)
    calibrated = spot.before.scale.calibrated
    size = writer.length(pair.side_mm) if calibrated else pair.side_mm
    values = {
        "panel": panel,
        "size": writer.number(size, 1 if calibrated and in_inches else 0),
        "unit": writer.length_unit if calibrated else "px",
    }
    about = (
        writer.tell("{panel}, {size} {unit} of panel about the lamp's reflection", **values)
        if centre == "hotspot"
        else writer.tell("{panel}, {size} {unit} of panel about the longest mark before", **values)
    )
    note = sentence(pair.remark, CROPS, audience="customer", writer=writer)
    return PicturePair(
        panel=panel,
        before=jpeg_picture(
            pair.before,
            alt=writer.tell("Before: {about}, under the inspection lamp, scale bar drawn in.", about=about),
        ),
        after=jpeg_picture(
            pair.after,
            alt=writer.tell("After: {about}, under the inspection lamp, scale bar drawn in.", about=about),
        ),
        caption=f"{about[0].upper()}{about[1:]}. {note}",
    )


def jpeg_picture(rgb: NDArray[np.uint8], *, alt: str) -> PrintedPicture:
    """A picture as JPEG, with its words."""
    jpeg = picture_file(rgb, "JPEG", quality=QUALITY, subsampling=0, optimize=True)
    return PrintedPicture(jpeg=jpeg, width_px=rgb.shape[1], height_px=rgb.shape[0], alt=alt)
