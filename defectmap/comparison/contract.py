"""A comparison as the plain dictionary that `compare --json` writes; keys may be added, never renamed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, get_args

from defectmap import __version__
from defectmap.comparison.align import Alignment
from defectmap.comparison.interval import Method
from defectmap.comparison.outcome import Change, Comparability, Comparison, Figure, Reason, SpotComparison
from defectmap.comparison.spots import plain_figure
from defectmap.panel.codec import OWN_ZONE, SCHEMA, Record, finite_or_none, measurement_record
from defectmap.panel.measurement import PanelMeasurement
from defectmap.versions import COMPARING, MEASURING
from defectmap.words.claim_words import CLAIMS, REBOUND
from defectmap.words.comparison_words import CHANGES, METHODS, REASONS, WARNINGS
from defectmap.words.remark import Remark, sentence

COMMON_AREA = "common area"  # both photographs show it; where they cannot be compared: each its own zone
PROGRAM = f"defectmap {__version__}"
PLACES: Mapping[Figure, tuple[str, ...]] = {
    "density all": ("density_mm_per_cm2", "all"),
    "density swirl": ("density_mm_per_cm2", "swirl"),
    "density scratch": ("density_mm_per_cm2", "scratch"),
    "density trail": ("density_mm_per_cm2", "trail"),
    "longest scratch": ("longest_scratch_mm",),
    "haze": ("haze",),
    "score": ("score",),
}


def comparison_record(comparison: Comparison) -> Record:
    """Turn a comparison into the dictionary that is written as JSON.

    Parameters
    ----------
    comparison : Comparison
        Of one or several spots.

    Returns
    -------
    dict
        `before` and `after` are records of `measure` without points: one each for one spot, arrays for
        several. Where the verdict is "no" every `change_percent`, `ci95_percent` and `distinguishable` is
        None.
    """
    record: Record = {
        "schema": SCHEMA,
        "program": PROGRAM,
        "measuring": MEASURING,
        "comparing": COMPARING,
        "figures_of": COMMON_AREA if comparison.changes else OWN_ZONE,
        "comparable": comparison.comparable.verdict,
        "reasons": [sentence(reason, REASONS) for reason in comparison.comparable.reasons],
        "reason_details": [_reason(reason) for reason in comparison.comparable.reasons],
        "scope": comparison.scope,
        "claim": {
            "word": comparison.claim.word,
            "reason": " ".join(sentence(reason, CLAIMS) for reason in comparison.claim.reasons),
            "reason_code": comparison.claim.reasons[0].code,
            "reason_codes": [reason.code for reason in comparison.claim.reasons],
            "notes": [sentence(note, CLAIMS) for note in comparison.claim.notes],
            "note_codes": [note.code for note in comparison.claim.notes],
        },
        **_figures(comparison.spots, comparison.changes),
        "fainter_marks": _fainter(comparison.spots[0]) if len(comparison.spots) == 1 else None,
        "rebound": _rebound(comparison),
        "setup": comparison.setup,
        "warnings": [sentence(one, WARNINGS) for one in comparison.warnings],
        "warning_details": [_remark(one) for one in comparison.warnings],
        "spots": [_spot(spot) for spot in comparison.spots],
    }
    for side in ("before", "after"):
        records = [measurement_record(getattr(spot, side), with_points=False) for spot in comparison.spots]
        record[side] = records[0] if len(records) == 1 else records
    return record


def refused_record(before: Sequence[Record], after: Sequence[Record]) -> Record:
    """Record of a comparison in which a photograph was refused.

    Parameters
    ----------
    before, after : sequence of dict
        Records of the photographs, refused or measured.

    Returns
    -------
    dict
        `comparable` is "no", `reasons` are the refusals.
    """
    refused = [record["refused"] for record in (*before, *after) if record["refused"]]
    return {
        "schema": SCHEMA,
        "program": PROGRAM,
        "comparable": "no",
        "reasons": refused,
        "before": before[0] if len(before) == 1 else list(before),
        "after": after[0] if len(after) == 1 else list(after),
    }


def spot_from(record: Mapping[str, Any], before: PanelMeasurement, after: PanelMeasurement) -> SpotComparison:
    """Turn one of `spots` of `comparison_record` round; the photographs are those that were compared."""
    pose = record["alignment"]
    sureness = pose["sureness"] or 0.0
    alignment = Alignment(
        **{name: pose[name] for name in ("by", "turn_deg", "down_mm", "right_mm", "scale")},
        sureness=sureness,
        marks_sureness=sureness if pose["by"] == "marks" else 0.0,
        texture_sureness=sureness if pose["by"] == "texture" else 0.0,
    )
    return SpotComparison(
        before=before,
        after=after,
        alignment=alignment,
        comparable=Comparability(
            reasons=tuple(_reason_from(one) for one in record.get("reason_details", ()))
        ),
        common_area_cm2=record["common_area_cm2"] or 0.0,
        changes=() if record["comparable"] == "no" else tuple(_changes_from(record)),
    )


def figure_in(record: Mapping[str, Any], figure: Figure) -> Any:
    """What a record of a comparison says of one figure; an empty mapping where it says nothing."""
    found: Any = record
    for key in PLACES[figure]:
        found = found.get(key) or {}
    return found


def side_records(record: Mapping[str, Any], side: str) -> list[Record]:
    """The measurements of one side; one spot stands alone in the record, several in a list."""
    found = record.get(side) or []
    return [dict(found)] if isinstance(found, Mapping) else list(found)


def reduced(record: Mapping[str, Any]) -> bool:
    """Whether fewer marks show beyond doubt: without that, nothing is called removed or less visible."""
    marks = (record.get("density_mm_per_cm2") or {}).get("all") or {}
    change = marks.get("change_percent")
    proven = marks.get("distinguishable") or (marks.get("at_least_percent") or 0.0) > 0
    return bool(record.get("comparable") != "no" and change is not None and change < 0 and proven)


def _changes_from(record: Mapping[str, Any]) -> Iterator[Change]:
    for figure in PLACES:
        if said := figure_in(record, figure):
            interval, code = said["ci95_percent"], said.get("note_code")
            same = ("before", "after", "change_percent", "distinguishable", "at_least_percent")
            method = said.get("method_code")
            yield Change(
                figure=figure,
                ci95_percent=None if interval is None else tuple(interval),
                method=method if method in get_args(Method) else None,
                remark=None if code is None else Remark(code=code, values=said.get("note_values", {})),
                **{name: said.get(name) for name in same},
            )


def _reason_from(record: Mapping[str, Any]) -> Reason:
    known = {name: record[name] for name in ("topic", "verdict", "value", "limit")}
    return Reason(code=record.get("code", ""), values=record.get("values", {}), **known)


def _figures(spots: Sequence[SpotComparison], changes: Sequence[Change]) -> Record:
    """Figures nested as in a measurement."""
    known = {change.figure: change for change in changes}
    nested: Record = {}
    for figure, place in PLACES.items():
        change = known.get(figure) or _no_change(figure, spots)
        inside = nested
        for key in place[:-1]:
            inside = inside.setdefault(key, {})
        inside[place[-1]] = _change(change)
    return nested


def _no_change(figure: Figure, spots: Sequence[SpotComparison]) -> Change:
    """Mean figures of both sides, each in its own zone, where no change may be given."""

    def mean(measured: Sequence[PanelMeasurement]) -> float:
        return math.fsum(plain_figure(one, figure) for one in measured) / len(measured)

    before, after = mean([spot.before for spot in spots]), mean([spot.after for spot in spots])
    return Change(figure=figure, before=before, after=after, remark=Remark(code="not comparable"))


def _fainter(spot: SpotComparison) -> Record | None:
    """All marks above the faintest width that both photographs show; beside the figures, never among them."""
    found = spot.fainter
    if found is None:
        return None
    return {"equivalent_width_um": found.limit_um, "density_mm_per_cm2": _change(found.change)}


def _change(change: Change) -> Record:
    interval = change.ci95_percent
    return {
        "before": finite_or_none(change.before),
        "after": finite_or_none(change.after),
        "change_percent": finite_or_none(change.change_percent),
        "ci95_percent": None if interval is None else [finite_or_none(end) for end in interval],
        "distinguishable": change.distinguishable,
        "at_least_percent": finite_or_none(change.at_least_percent),
        "method": METHODS[change.method] if change.method else "",
        "method_code": change.method,
        "note": sentence(change.remark, CHANGES) if change.remark else "",
        "note_code": change.remark.code if change.remark else None,
        "note_values": _remark(change.remark)["values"] if change.remark else {},
    }


def _reason(reason: Reason) -> Record:
    return {
        "topic": reason.topic,
        "verdict": reason.verdict,
        "code": reason.code,
        "values": _remark(reason)["values"],
        "sentence": sentence(reason, REASONS),
        "value": finite_or_none(reason.value),
        "limit": finite_or_none(reason.limit),
    }


def _remark(remark: Remark) -> Record:
    finite = {k: finite_or_none(v) if isinstance(v, float) else v for k, v in remark.values.items()}
    return {"code": remark.code, "values": finite}


def _spot(spot: SpotComparison) -> Record:
    pose = spot.alignment
    return {
        "before": spot.before.photo.name,
        "after": spot.after.photo.name,
        "comparable": spot.comparable.verdict,
        "reasons": [sentence(reason, REASONS) for reason in spot.comparable.reasons],
        "reason_details": [_reason(reason) for reason in spot.comparable.reasons],
        "alignment": {
            "by": pose.by,
            "sureness": finite_or_none(pose.sureness),
            "turn_deg": finite_or_none(pose.turn_deg),
            "right_mm": finite_or_none(pose.right_mm),
            "down_mm": finite_or_none(pose.down_mm),
            "scale": finite_or_none(pose.scale),
        },
        "common_area_cm2": finite_or_none(spot.common_area_cm2),
        **_figures([spot], spot.changes),
        "fainter_marks": _fainter(spot),
    }


def _rebound(comparison: Comparison) -> Record | None:
    found = comparison.rebound
    if found is None:
        return None
    return {
        "unwiped_change_percent": finite_or_none(found.unwiped_change_percent),
        "wiped_change_percent": finite_or_none(found.wiped_change_percent),
        "points": finite_or_none(found.points),
        "ci95_points": [finite_or_none(end) for end in found.ci95_points],
        "sentence": sentence(found.remark, REBOUND),
        "code": found.remark.code,
    }
