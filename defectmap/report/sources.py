"""The photographs that the figures rest on, so that a sceptic can ask for the files and check them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from defectmap.report.content import PhotographEntry
from defectmap.report.privacy import Aliases
from defectmap.words.report_words import day_words, plain_words, without_commands
from defectmap.words.units import light_words


def photograph_entry(
    record: Mapping[str, Any], *, panel: str, spot: str, stage: str, aliases: Aliases
) -> PhotographEntry:
    """One photograph of the list.

    Parameters
    ----------
    record : mapping
        Its JSON from `defectmap measure` (or the refusal).
    panel, spot, stage : str
        Where and when it was taken.
    aliases : Aliases
        Whether its file's name may be shown.
    """
    photo = record["photo"]
    name = plain_words(photo["name"]) if aliases.shown else None
    if record.get("refused"):
        return PhotographEntry(
            panel=plain_words(panel),
            spot=plain_words(spot),
            stage=stage,
            name=name,
            sha256=photo.get("sha256") or "–",
            taken=day_words(photo.get("taken")),
            size="–",
            exposure="–",
            scale="–",
            area="–",
            limit="–",
            refused=plain_words(aliases.write(record["refused"])),
        )
    return PhotographEntry(
        panel=plain_words(panel),
        spot=plain_words(spot),
        stage=stage,
        name=name,
        sha256=photo["sha256"],
        taken=day_words(photo["taken"]),
        size=f"{photo['width_px']} × {photo['height_px']} px",
        exposure=_exposure(photo),
        scale=_scale(record["scale"]),
        area=_area(record),
        limit=_limit(record),
        limit_contrast=record["detection_limit"]["contrast"],
        warnings=tuple(
            said
            for words in record.get("warnings", ())
            if (said := without_commands(plain_words(aliases.write(words))))
        ),
    )


def _exposure(photo: Mapping[str, Any]) -> str:
    time = photo.get("exposure_s")
    parts = [
        "" if time is None else f"1/{1 / time:.0f} s" if time < 0.5 else f"{time:g} s",
        "" if photo.get("f_number") is None else f"f/{photo['f_number']:g}",
        "" if photo.get("iso") is None else f"ISO {photo['iso']:g}",
    ]
    return ", ".join(part for part in parts if part) or "not in the file"


def _scale(scale: Mapping[str, Any]) -> str:
    if scale["source"] == "none":
        return "uncalibrated (no scale)"
    source = {"card": "printed card", "field-width": "width of the picture", "typed": "typed"}[
        scale["source"]
    ]
    return f"{scale['px_per_mm']:.1f} px/mm ({source})"


def _area(record: Mapping[str, Any]) -> str:
    unit = "cm²" if record["scale"]["source"] != "none" else "× 100 px²"
    return f"{record['zone']['area_cm2']:.0f} {unit}"


def _limit(record: Mapping[str, Any]) -> str:
    limit = record["detection_limit"]
    unit = "mm" if record["scale"]["source"] != "none" else "px"
    return f"{light_words(limit['contrast'])}, over {limit['length_mm']:g} {unit}"
