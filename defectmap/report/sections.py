"""From the record of a comparison (the JSON of `defectmap compare`) to the section of one panel.

Reading the published record, and not the objects that made it, lets a report of a kept job and one of files
just compared take the same way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from defectmap.comparison.contract import PLACES, figure_in, side_records
from defectmap.comparison.films_apart import film_share
from defectmap.comparison.outcome import Figure
from defectmap.report.content import FigureRow, PanelSection, PicturePair
from defectmap.report.privacy import Aliases
from defectmap.report.strength_rows import strength_rows
from defectmap.words.changes import by_hand_words, change_words, interval_words, kept_change, outcome_of
from defectmap.words.claim_words import CLAIMS, REBOUND
from defectmap.words.comparison_words import CHANGES, REASONS, WARNINGS
from defectmap.words.remark import Table, kept_sentences
from defectmap.words.report_words import ReportFigure, figure_name, figure_unit, figure_words, plain_words
from defectmap.words.writer import ENGLISH, Writer

Record = Mapping[str, Any]


def panel_section(
    name: str,
    record: Record,
    *,
    aliases: Aliases,
    why_left: str = "",
    pairs: Sequence[PicturePair] = (),
    old: bool = False,
    writer: Writer = ENGLISH,
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
    old : bool, optional
        Whether its photographs were measured in an earlier way than the program measures now.
    writer : Writer, optional
        Of the shop.
    """
    sides = side_records(record, "before"), side_records(record, "after")
    calibrated = all(
        (one.get("scale") or {}).get("source", "none") != "none" for one in (*sides[0], *sides[1])
    )
    share = film_share(record)
    figures = figure_rows(record, calibrated=calibrated, writer=writer)
    said = _Said(aliases=aliases, writer=writer)
    claim = record.get("claim") or {}
    word = claim.get("word", "less visible")
    return PanelSection(
        name=plain_words(writer.term(name)),
        spots=len(sides[0]),
        scope=record.get("scope", "this spot"),
        verdict=record["comparable"],
        reasons=said.all(record.get("reason_details"), REASONS, record.get("reasons", ())),
        headline=panel_headline(figures[0], writer=writer),
        figures=figures,
        calibrated=calibrated,
        word=word,
        word_reason=said.claim(claim),
        notes=said.all(_codes(claim.get("note_codes")), CLAIMS, claim.get("notes", ())),
        warnings=(
            *said.all(record.get("warning_details"), WARNINGS, record.get("warnings", ())),
            *([writer.tell("Measured in an earlier way than photographs are measured now.")] if old else ()),
        ),
        rebound=said.rebound(record.get("rebound")),
        left=left_words(figures, writer=writer),
        why_left=_worse(writer) if figures[0].outcome == "more" else why_left,
        pairs=tuple(pairs),
        areas_cm2=tuple(spot.get("common_area_cm2") or 0.0 for spot in record.get("spots", ())),
        same_lamp=_same_lamp(record),
        by_hand=by_hand_words(record.get("by_hand"), figures[0].change_text, writer=writer),
        strength=strength_rows(*sides, calibrated=calibrated, writer=writer),
        filmed="" if share is None else filmed_words(share, writer=writer),
    )


def filmed_words(share: float, *, writer: Writer = ENGLISH) -> str:
    """That a panel's figures are of films, so that nobody holds them against those of a photographed one."""
    return writer.tell(
        "Filmed while the lamp moved: marks of all lamp places, {share:.0f} % of all directions.", share=share
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """Words the codes of a record for the customer; records from before there were codes keep theirs."""

    aliases: Aliases
    writer: Writer

    def all(
        self, details: Sequence[Record] | None, table: Table, sentences: Sequence[str]
    ) -> tuple[str, ...]:
        """One sentence a code, each once; places stand for names of files."""
        return kept_sentences(
            self.aliases.details(details),
            table,
            kept=[self.aliases.plain(one) for one in sentences],
            audience="customer",
            writer=self.writer,
        )

    def claim(self, claim: Record) -> str:
        """Why the word may be used. That the paint was wiped is what the shop entered, and is told so."""
        if claim.get("word") == "removed":
            return self.writer.tell(
                "By the shop's own entry the paint was wiped with solvent before it was photographed, and no "
                "filler or protection was on it."
            )
        codes = claim.get("reason_codes") or [claim.get("reason_code")]
        return " ".join(self.all(_codes(codes), CLAIMS, [claim.get("reason") or ""]))

    def rebound(self, found: Record | None) -> str | None:
        """What came back with the wipe."""
        if found is None:
            return None
        values = {
            "unwiped": found["unwiped_change_percent"],
            "wiped": found["wiped_change_percent"],
            "points": found["points"],
            "low": found["ci95_points"][0],
            "high": found["ci95_points"][1],
        }
        detail = {"code": found["code"], "values": values} if "code" in found else None
        return "".join(self.all(None if detail is None else [detail], REBOUND, [found["sentence"]]))


def _worse(writer: Writer) -> str:
    """A panel that got worse is not excused with clear coat that was kept."""
    return writer.tell("Worse than before. This panel needs another look before it is handed over.")


def _same_lamp(record: Record) -> bool:
    """Whether the photographs were held against each other and no check of the lamp found anything."""
    details = record.get("reason_details")
    if details is None or record["comparable"] == "no":
        return False
    return not any(one["topic"] == "lamp" and one["verdict"] != "yes" for one in details)


def _codes(codes: Sequence[str | None] | None) -> list[Record] | None:
    """Remarks without values, from their codes; None where a record holds none."""
    if codes is None or None in codes:
        return None
    return [{"code": code, "values": {}} for code in codes]


def figure_rows(record: Record, *, calibrated: bool, writer: Writer = ENGLISH) -> tuple[FigureRow, ...]:
    """Every figure of a record; buffer trails only where there are some, a score where there is one."""
    rows = [figure_row(figure, record, calibrated=calibrated, writer=writer) for figure in PLACES]
    return tuple(
        row
        for row in rows
        if (row.figure != "density trail" or row.before or row.after)
        and (row.figure != "score" or row.before is not None or row.after is not None)
    )


def figure_row(figure: Figure, record: Record, *, calibrated: bool, writer: Writer = ENGLISH) -> FigureRow:
    """One figure of a record as a row."""
    found = figure_in(record, figure)
    compared = record["comparable"] != "no"
    row = row_of(figure, found, compared=compared, calibrated=calibrated, writer=writer)
    if figure == "density trail" and compared and (row.after or 0.0) > (row.before or 0.0):
        note = writer.tell("Left by machine polishing; a finishing pass clears them.")
        return replace(row, note=note)
    return row


def row_of(
    figure: ReportFigure, found: Record, *, compared: bool, calibrated: bool, writer: Writer = ENGLISH
) -> FigureRow:
    """A row from the numbers of one change.

    Parameters
    ----------
    figure : str
        Which one.
    found : mapping
        `before`, `after`, `change_percent`, `ci95_percent`, `distinguishable`, `at_least_percent`, and what
        is to be said of it: `note_code` with `note_values`, or `note`.
    compared, calibrated : bool
        Whether a change may be given, and whether lengths are in millimetres.
    writer : Writer, optional
        Of the shop.
    """
    change = kept_change(found)
    outcome = outcome_of(change) if compared else "not comparable"
    none = outcome in ("not comparable", "nothing before", "not given")
    interval = None if none or change.ci95_percent is None else change.ci95_percent
    before, after = found.get("before"), found.get("after")
    return FigureRow(
        figure=figure,
        name=figure_name(figure, writer=writer),
        unit=figure_unit(figure, calibrated=calibrated, writer=writer),
        before=before,
        after=after,
        change_percent=None if none else change.change_percent,
        ci95_percent=None if interval is None else (interval[0], interval[1]),  # type: ignore[arg-type]
        at_least_percent=None if none else change.at_least_percent,
        outcome=outcome,
        before_text=figure_words(figure, before, calibrated=calibrated, writer=writer),
        after_text=figure_words(figure, after, calibrated=calibrated, writer=writer),
        change_text=change_words(change, writer=writer) if compared else writer.tell("not comparable"),
        interval_text="" if outcome == "nothing left" else interval_words(interval, writer=writer),
        note=_note(found, writer),
    )


def _note(found: Record, writer: Writer) -> str:
    code, values = found.get("note_code"), found.get("note_values")
    details = None if code is None else [{"code": code, "values": values}]
    kept = [plain_words(found.get("note") or "")]
    return "".join(kept_sentences(details, CHANGES, kept=kept, audience="customer", writer=writer))


def panel_headline(row: FigureRow, *, writer: Writer = ENGLISH) -> str:
    """One sentence on the marks of all kinds.

    Whether marks were removed or only show less is for the claim's word; the figure is of what shows.
    """
    values = {
        "figures": writer.tell(
            "{before} to {after} {unit}", before=row.before_text, after=row.after_text, unit=row.unit
        ),
        "change": row.change_text,
        "range": row.interval_text,
    }
    message = {
        "not comparable": writer.tell("The two photographs cannot be compared, so no change is given."),
        "less": writer.tell("Visible marks {change} (range {range}), from {figures}.", **values),
        "nothing left": writer.tell(
            "No mark that the photograph could show is left: {change} ({figures}).", **values
        ),
        "more": writer.tell("Worse: visible marks {change} (range {range}), from {figures}.", **values),
        "no provable change": writer.tell("No measurable change: {figures}; the range is {range}.", **values),
        "nothing before": writer.tell(
            "No mark showed before ({figures}), so there is nothing to take a percentage of.", **values
        ),
        "not given": writer.tell("Visible marks went from {figures}; no change can be given.", **values),
        "no interval": writer.tell("Visible marks went from {figures}; no range can be given.", **values),
    }
    return message[row.outcome]


def left_words(figures: Sequence[FigureRow], *, writer: Writer = ENGLISH) -> str:
    """What still shows."""
    rows = {row.figure: row for row in figures}
    marks, longest = rows["density all"], rows["longest scratch"]
    if marks.after is None:
        return writer.tell("not measured")
    if marks.after == 0:
        return writer.tell("no mark that counts")
    parts = [f"{marks.after_text} {marks.unit}"]
    trails = rows.get("density trail")
    if trails is not None and trails.after:
        parts.append(writer.tell("{density} of it buffer trails", density=trails.after_text))
    if longest.after:
        parts.append(
            writer.tell("longest scratch {length} {unit}", length=longest.after_text, unit=longest.unit)
        )
    return ", ".join(parts)
