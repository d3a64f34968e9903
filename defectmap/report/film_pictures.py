"""Pictures of a filmed spot for a report: the light of all lamp places, the marks, and where it was blind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from defectmap.film.assembling import FilmMeasurement
from defectmap.pictures.film import directions_picture, fused_pair
from defectmap.pictures.legend import draw_scale_bar
from defectmap.pictures.overlay import draw_overlay
from defectmap.report.content import PicturePair
from defectmap.report.picture_pairs import jpeg_picture
from defectmap.report.privacy import PrivacyChoice
from defectmap.words.writer import ENGLISH, Writer

WIDTH_PX = 960
Picture = NDArray[np.uint8]


def film_pairs(
    where: str,
    before: FilmMeasurement,
    after: FilmMeasurement,
    *,
    choice: PrivacyChoice,
    writer: Writer = ENGLISH,
) -> Iterator[PicturePair]:
    """Before and after of one filmed spot: fused light, marks, directions.

    Parameters
    ----------
    where : str
        Name of the panel (with its spot where there are several).
    before, after : FilmMeasurement
        Of films that were compared.
    choice : PrivacyChoice
        Boxes to be made unreadable.
    writer : Writer, optional
        Of the shop.
    """
    films = [_covered(film, choice) for film in (before, after)]
    about = writer.tell("{panel}, filmed while the lamp moved", panel=where)
    yield _pair(
        where,
        [_sized(one) for one in fused_pair(films[0], films[1])],
        alt=writer.tell("{about}: the light of all lamp places, scale bar drawn in", about=about),
        caption=writer.tell(
            "{about}. At each point the brightest light of all lamp places, the lamp's glow divided out; "
            "both films alike, laid on each other.",
            about=about,
        ),
        scale=before,
        writer=writer,
    )
    yield _pair(
        writer.tell("{panel}: marks found", panel=where),
        [_map(film) for film in films],
        alt=writer.tell("{about}: lines beside the marks that were found", about=about),
        caption=writer.tell(
            "{about}. Blue: swirl marks, orange: scratches, green: buffer trails. Dashed: where marks count. "
            "Yellow crosses: where the lamp's reflection was.",
            about=about,
        ),
        writer=writer,
    )
    shares = [f"{100 * (film.panel.film.directions_share if film.panel.film else 0):.0f}" for film in films]
    yield _pair(
        writer.tell("{panel}: directions that could show", panel=where),
        [_sized(directions_picture(film)) for film in films],
        alt=writer.tell("{about}: roses of directions over the spot", about=about),
        caption=writer.tell(
            "{about}. Each star is a place, each thin stroke a direction of scratch that the lamp could show "
            "there. Blue: none of the lamp's places could; scratches in that direction are missing from the "
            "figures. Shown before: {before} % of all directions, after: {after} %.",
            about=about,
            before=shares[0],
            after=shares[1],
        ),
        writer=writer,
    )


def _pair(
    where: str,
    pictures: list[Picture],
    *,
    alt: str,
    caption: str,
    writer: Writer,
    scale: FilmMeasurement | None = None,
) -> PicturePair:
    if scale is not None:
        for picture in pictures:
            grown = picture.shape[1] / scale.panel.zone.shape[1]
            known = scale.panel.scale
            draw_scale_bar(picture, px_per_unit=grown * known.px_per_mm, scale=known)
    before, after = pictures
    return PicturePair(
        panel=where,
        before=jpeg_picture(before, alt=writer.tell("Before: {about}.", about=alt)),
        after=jpeg_picture(after, alt=writer.tell("After: {about}.", about=alt)),
        caption=f"{caption[0].upper()}{caption[1:]}",
    )


def _map(film: FilmMeasurement) -> Picture:
    """The fused light with lines beside its marks, without the legend below it."""
    light = film.fused_rgb
    drawn = draw_overlay(light, film.panel, longest_side_px=WIDTH_PX, line_px=2)
    return np.ascontiguousarray(drawn[: round(drawn.shape[1] * light.shape[0] / light.shape[1])])


def _sized(picture: Picture) -> Picture:
    """In colour, and as wide as pictures of a report are."""
    height, width = picture.shape[:2]
    size = WIDTH_PX, max(1, round(height * WIDTH_PX / width))
    how = cv2.INTER_AREA if width > WIDTH_PX else cv2.INTER_LINEAR
    sized = np.asarray(cv2.resize(picture, size, interpolation=how), np.uint8)
    return sized if sized.ndim == 3 else np.asarray(cv2.cvtColor(sized, cv2.COLOR_GRAY2RGB), np.uint8)


def _covered(film: FilmMeasurement, choice: PrivacyChoice) -> FilmMeasurement:
    """The film with what is to be unreadable unreadable in its fused light."""
    light = film.fused_rgb
    covered = choice.covered(light, film.panel.photo.sha256)
    if covered is light:
        return film
    height, width = film.fused.shape
    one = np.ascontiguousarray(covered[..., 0])
    small = cv2.resize(one, (width, height), interpolation=cv2.INTER_AREA)
    return replace(film, fused=np.asarray(small, np.uint8))
