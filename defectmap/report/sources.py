"""The photographs that the figures rest on, so that a sceptic can ask for the files and check them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from defectmap.panel.tuning import STANDARD_UM
from defectmap.report.content import PhotographEntry
from defectmap.report.privacy import Aliases
from defectmap.words.filling import NONE
from defectmap.words.photo_words import WARNINGS, caused
from defectmap.words.remark import kept_sentences
from defectmap.words.report_words import plain_words
from defectmap.words.units import light_words
from defectmap.words.writer import ENGLISH, Writer


def photograph_entry(
    record: Mapping[str, Any],
    *,
    panel: str,
    spot: str,
    stage: str,
    aliases: Aliases,
    writer: Writer = ENGLISH,
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
    writer : Writer, optional
        Of the shop.
    """
    photo = record["photo"]

    facts: dict[str, Any] = {
        "panel": plain_words(writer.term(panel)),
        "spot": plain_words(spot),
        "stage": stage_words(stage, writer=writer),
        "name": plain_words(photo["name"]) if aliases.shown else None,
        "sha256": photo.get("sha256") or NONE,
        "taken": writer.moment(photo.get("taken")),
        "taken_day": (photo.get("taken") or "")[:10],
    }
    if record.get("refused"):
        nothing: dict[str, Any] = dict.fromkeys(("size", "exposure", "scale", "area", "limit"), NONE)
        return PhotographEntry(**facts, **nothing, refused=aliases.plain(record["refused"]))
    limit, film = record["detection_limit"], record.get("film")
    calibrated = record["scale"]["source"] != "none"
    length = writer.length(limit["length_mm"]) if calibrated else limit["length_mm"]
    size = writer.tell("{length:.3g}", length=length)
    limit_length = f"{size} {writer.length_unit if calibrated else 'px'}"
    details = record.get("warning_details")
    if details is not None:
        details = [{**one, "values": caused(one["values"], writer=writer)} for one in details]
    return PhotographEntry(
        **facts,
        size=f"{photo['width_px']} × {photo['height_px']} px",
        exposure=_exposure(photo, writer) if not film else _film(film, writer),
        scale=_scale(record["scale"], writer),
        area=_area(record, writer),
        limit=writer.tell("{um:.0f} µm, over {length}", um=STANDARD_UM, length=limit_length)
        if film
        else writer.tell(
            "{light}, over {length}", light=light_words(limit["contrast"], writer=writer), length=limit_length
        ),
        limit_length=limit_length,
        limit_contrast=limit["contrast"],
        warnings=kept_sentences(
            aliases.details(details),
            WARNINGS,
            kept=[aliases.plain(one) for one in record.get("warnings", ())],
            audience="customer",
            writer=writer,
        ),
    )


def stage_words(stage: str, *, writer: Writer = ENGLISH) -> str:
    """A stage in the customer's language; one of the shop's own words stays.

    Examples
    --------
    >>> stage_words("wiped")
    'wiped'
    """
    return {
        "before": writer.tell("before"),
        "after": writer.tell("after"),
        "as received": writer.tell("as received"),
        "washed": writer.tell("washed"),
        "decontaminated": writer.tell("decontaminated"),
        "test spot": writer.tell("test spot"),
        "corrected": writer.tell("corrected"),
        "wiped": writer.tell("wiped"),
        "protected": writer.tell("protected"),
        "follow up": writer.tell("follow-up"),
    }.get(stage, stage)


def _film(film: Mapping[str, Any], writer: Writer) -> str:
    return writer.tell(
        "film, {used} of {frames} frames, {share:.0f} % of all directions",
        used=len(film["used"]),
        frames=film["frames"],
        share=100 * (film["directions_share"] or 0.0),
    )


def _exposure(photo: Mapping[str, Any], writer: Writer) -> str:
    time, f_number, iso = (photo.get(name) for name in ("exposure_s", "f_number", "iso"))
    parts = []
    if time is not None:
        parts.append(f"1/{1 / time:.0f} s" if time < 0.5 else writer.tell("{seconds:g} s", seconds=time))
    if f_number is not None:
        parts.append(writer.tell("f/{aperture:g}", aperture=f_number))
    if iso is not None:
        parts.append(f"ISO {iso:.0f}")
    return ", ".join(parts) or writer.tell("not in the file")


def _scale(scale: Mapping[str, Any], writer: Writer) -> str:
    if scale["source"] == "none":
        return writer.tell("uncalibrated (no scale)")
    source = {
        "card": writer.tell("printed card"),
        "field-width": writer.tell("width of the picture"),
        "typed": writer.tell("typed"),
    }[scale["source"]]
    return f"{writer.number(scale['px_per_mm'])} px/mm ({source})"


def _area(record: Mapping[str, Any], writer: Writer) -> str:
    area = record["zone"]["area_cm2"]
    if record["scale"]["source"] == "none":
        return f"{writer.number(area, 0)} px² × 100"
    return f"{writer.number(writer.area(area), 0)} {writer.area_unit}"
