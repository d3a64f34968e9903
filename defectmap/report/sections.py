"""From the record of a comparison (the JSON of `defectmap compare`) to the section of one panel.

Reading the published record, and not the objects that made it, lets a report of a kept job and one of files
just compared take the same way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from defectmap.comparison.outcome import UNITS, Figure
from defectmap.report.content import FigureRow, Outcome, PanelSection, PicturePair
from defectmap.report.privacy import Aliases
from defectmap.words.report_words import (
    NAMES,
    change_words,
    figure_words,
    interval_words,
    percent,
    plain_words,
    without_commands,
)

Record = Mapping[str, Any]
PLACES: dict[Figure, tuple[str, ...]] = {
    "density all": ("density_mm_per_cm2", "all"),
    "density swirl": ("density_mm_per_cm2", "swirl"),
    "density scratch": ("density_mm_per_cm2", "scratch"),
    "longest scratch": ("longest_scratch_mm",),
    "haze": ("haze",),
    "score": ("score",),
}
UNCALIBRATED_UNITS: dict[str, str] = {
    "mm/cm²": "px/100 px² (uncalibrated)",
    "mm": "px (uncalibrated)",
}
LEAST_TRAIL = 0.005  # mm/cm²: what is printed as 0.00 is none, and a sum of rounded figures has such crumbs
TRAIL_NOTE = "Left by machine polishing; a finishing pass clears them."
_SCORE_UNIT = "of 100"
_CHANGE_OF: dict[Outcome, str] = {
    "no provable change": "no provable change",
    "not comparable": "not comparable",
}


def panel_section(
    name: str,
    record: Record,
    *,
    aliases: Aliases,
    why_left: str = "",
    pairs: Sequence[PicturePair] = (),
) -> PanelSection:
    """Section of one panel.

    Parameters
    ----------
    name : str
        Of the panel.
    record : mapping
        What `defectmap compare --json` writes; that of a refused photograph too.
    aliases : Aliases
        Knows how the photographs' files are called in this report.
    why_left : str, optional
        Why something is left on the panel, where the record says.
    pairs : sequence of PicturePair, optional
        Side-by-side pictures.
    """
    verdict = record["comparable"]
    sides = side_records(record, "before"), side_records(record, "after")
    calibrated = all(
        (one.get("scale") or {}).get("source", "none") != "none" for one in (*sides[0], *sides[1])
    )
    figures = figure_rows(record, calibrated=calibrated)
    claim = record.get("claim") or {}
    rebound = record.get("rebound")

    def said(sentences: Sequence[str]) -> tuple[str, ...]:
        told = (without_commands(plain_words(aliases.write(sentence))) for sentence in sentences)
        return tuple(dict.fromkeys(words for words in told if words))

    return PanelSection(
        name=plain_words(name),
        spots=len(sides[0]),
        scope=record.get("scope", "this spot"),
        verdict=verdict,
        reasons=said(record.get("reasons", ())),
        headline=panel_headline(figures[0]),
        figures=figures,
        calibrated=calibrated,
        word=claim.get("word", "less visible"),
        word_reason=aliases.write(claim.get("reason", "")),
        notes=said(claim.get("notes", ())),
        warnings=said(record.get("warnings", ())),
        rebound=None if rebound is None else rebound["sentence"],
        left=left_words(figures),
        why_left=why_left,
        pairs=tuple(pairs),
    )


def side_records(record: Record, side: str) -> list[Record]:
    """The measurements of one side; one spot stands alone in the record, several in a list."""
    found = record.get(side) or []
    return [found] if isinstance(found, Mapping) else list(found)


def figure_rows(record: Record, *, calibrated: bool) -> tuple[FigureRow, ...]:
    """Every figure of a record; buffer trails beside the other kinds where there are some."""
    rows = [figure_row(figure, record, calibrated=calibrated) for figure in PLACES]
    trails = trails_of(record)
    if trails is None:
        return tuple(rows)
    after_kinds = list(PLACES).index("density scratch") + 1
    return (*rows[:after_kinds], _trail_row(*trails, like=rows[0]), *rows[after_kinds:])


def trails_of(record: Record) -> tuple[float, float] | None:
    """Buffer trails before and after, on the piece that was compared; None where none show.

    A comparison gives no change of theirs, so they are what its other kinds leave of all marks.
    """
    density = record.get("density_mm_per_cm2") or {}
    sides = []
    for side in ("before", "after"):
        every, swirl, scratch = ((density.get(k) or {}).get(side) for k in ("all", "swirl", "scratch"))
        if every is None or swirl is None or scratch is None:
            return None
        left = every - swirl - scratch
        sides.append(left if left >= LEAST_TRAIL else 0.0)
    before, after = sides
    return (before, after) if before or after else None


def _trail_row(before: float, after: float, *, like: FigureRow) -> FigureRow:
    fresh = after > before and like.outcome != "not comparable"
    return replace(
        like,
        figure="density trail",
        name=NAMES["density trail"],
        before=before,
        after=after,
        change_percent=None,
        ci95_percent=None,
        at_least_percent=None,
        outcome="not comparable" if like.outcome == "not comparable" else "no interval",
        before_text=figure_words("density trail", before),
        after_text=figure_words("density trail", after),
        change_text=like.change_text if like.outcome == "not comparable" else "no percentage",
        interval_text="",
        note=TRAIL_NOTE if fresh else "",
    )


def figure_row(figure: Figure, record: Record, *, calibrated: bool) -> FigureRow:
    """One figure of a record as a row."""
    found: Any = record
    for key in PLACES[figure]:
        found = found.get(key) or {}
    return row_of(figure, found, compared=record["comparable"] != "no", calibrated=calibrated)


def row_of(figure: Figure, found: Record, *, compared: bool, calibrated: bool) -> FigureRow:
    """A row from the numbers of one change.

    Parameters
    ----------
    figure : str
        Which one.
    found : mapping
        `before`, `after`, `change_percent`, `ci95_percent`, `distinguishable`, `at_least_percent`, `note`.
    compared, calibrated : bool
        Whether a change may be given, and whether lengths are in millimetres.
    """
    change, interval, proven = (
        found.get(key) for key in ("change_percent", "ci95_percent", "at_least_percent")
    )
    outcome = outcome_of(found) if compared else "not comparable"
    if outcome in ("not comparable", "nothing before"):
        change = interval = proven = None
    unit = _SCORE_UNIT if figure == "score" else UNITS[figure]
    return FigureRow(
        figure=figure,
        name=NAMES[figure],
        unit=unit if calibrated else UNCALIBRATED_UNITS.get(unit, unit),
        before=found.get("before"),
        after=found.get("after"),
        change_percent=change,
        ci95_percent=None if interval is None else (interval[0], interval[1]),
        at_least_percent=proven,
        outcome=outcome,
        before_text=figure_words(figure, found.get("before")),
        after_text=figure_words(figure, found.get("after")),
        change_text=_change_text(outcome, change, proven, after=found.get("after")),
        interval_text=interval_words(interval),
        note=plain_words(found.get("note") or ""),
    )


def outcome_of(found: Record) -> Outcome:
    """What the numbers of one change amount to."""
    change, proven = found.get("change_percent"), found.get("at_least_percent")
    if change is None:
        return "nothing before"
    if found.get("after") == 0 and proven is not None and proven > 0:
        return "nothing left"
    if found.get("distinguishable") is None:
        return "no interval"
    if not found["distinguishable"]:
        return "no provable change"
    return "less" if change < 0 else "more"


def _change_text(outcome: Outcome, change: float | None, proven: float | None, *, after: float | None) -> str:
    if outcome in _CHANGE_OF:
        return _CHANGE_OF[outcome]
    if outcome == "nothing before":
        return "none seen before" if after else "none seen, either time"
    if outcome == "nothing left":
        return f"at least {percent(proven or 0.0)} less"
    words = change_words(change or 0.0)
    return words if outcome != "no interval" else f"{words} (no interval)"


def panel_headline(row: FigureRow) -> str:
    """One sentence on the marks of all kinds.

    Whether marks were removed or only show less is for the claim's word; the figure is of what shows.
    """
    figures = f"{row.before_text} to {row.after_text} {row.unit}"
    if row.outcome == "not comparable":
        return "The two photographs cannot be compared, so no change is given."
    if row.outcome == "less":
        return f"Visible marks fell from {figures}: {row.change_text} (95 % interval {row.interval_text})."
    if row.outcome == "nothing left":
        return f"No mark that the photograph could show is left: {row.change_text} than before ({figures})."
    if row.outcome == "more":
        return (
            f"More marks show than before: {figures}, {row.change_text} (95 % interval {row.interval_text})."
        )
    if row.outcome == "no provable change":
        return f"No change can be proven: {figures}; the 95 % interval runs {row.interval_text}."
    if row.outcome == "nothing before":
        return f"No mark showed before ({figures}), so there is nothing to take a percentage of."
    return f"Visible marks went from {figures}; no interval can be given."


def left_words(figures: Sequence[FigureRow]) -> str:
    """What still shows."""
    rows = {row.figure: row for row in figures}
    marks, longest = rows["density all"], rows["longest scratch"]
    if marks.after is None:
        return "not measured"
    if marks.after == 0:
        return "no mark above the detection limit"
    words = f"{marks.after_text} {marks.unit}"
    trails = rows.get("density trail")
    if trails is not None and trails.after:
        words += f", {trails.after_text} of it buffer trails"
    if longest.after:
        words += f", longest scratch {longest.after_text} {longest.unit}"
    return words
