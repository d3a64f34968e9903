"""The claim sheet: which sentences of advertising the measurements support, which they do not, and why.

It follows what advertising rules of several places have in common: proof of an objective claim is held before
it is published (US: FTC policy statement on substantiation, 1984; UK: CAP Code rule 3.7), a result that is
shown is read as typical (US: 16 CFR 255.2, from memory), and true figures may still mislead (EU: Directive
2005/29/EC, article 6). It is no legal advice, and says so. All measured panels count, or none: no panel is
picked, and the least improved one is always named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.report.claim_support import (
    FALLEN,
    Statement,
    best_panel,
    cares,
    never,
    pictures,
    removed,
    rules,
    same_lamp,
    typical,
    unsupported,
)
from defectmap.report.content import FigureRow, PanelSection, Report
from defectmap.report.overall import of_two_kinds, went_apart
from defectmap.report.posting import places_words
from defectmap.report.typical import JobResult, typical_result
from defectmap.words.style import Style
from defectmap.words.writer import Writer


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimSheet:
    """Everything on the sheet."""

    title: str
    made_on: str
    program: str
    reference: str | None
    made_on_text: str
    style: Style
    panels: tuple[tuple[str, str], ...]  # every measured panel with its change
    statements: tuple[Statement, ...]
    say_with_it: tuple[str, ...]  # belongs to every supported sentence
    rules: tuple[str, ...]


def claim_sheet(report: Report, *, jobs: Sequence[JobResult] = ()) -> ClaimSheet:
    """Judge sentences by one report, and by all measured jobs of the shop where they are given.

    Parameters
    ----------
    report : Report
        Of one job, every measured panel in it.
    jobs : sequence of JobResult, optional
        Every measured job of the shop, this one too; none may be left out.
    """
    writer = Writer(report.style)
    return ClaimSheet(
        title=writer.tell("What may be said of these results"),
        made_on=report.made_on,
        made_on_text=report.made_on_text,
        program=report.program,
        reference=report.reference,
        panels=tuple((panel.name, _panel_words(panel, writer)) for panel in report.panels),
        statements=(
            *_reductions(report, writer),
            removed(report, writer),
            *best_panel(report, writer),
            pictures(report, writer),
            typical(typical_result(jobs), writer),
            *never(writer),
        ),
        say_with_it=_say_with_it(report, writer),
        rules=rules(writer),
        style=report.style,
    )


def _reductions(report: Report, writer: Writer) -> tuple[Statement, ...]:
    """All marks and swirl marks, over the panels (or of the only one)."""
    rows = report.panels[0].figures if len(report.panels) == 1 else report.together
    known = {row.figure: row for row in rows}
    marks, swirls = known.get("density all"), known.get("density swirl")
    if marks is None or marks.outcome not in FALLEN:
        words = writer.tell("Visible marks reduced {where}.", where=_where(report, writer))
        return (unsupported(words, *_why_not_reduced(marks, report, writer)),)
    found = [_reduced(marks, report, writer)]
    if swirls is not None and swirls.outcome in FALLEN:
        apart = (*_scratches_apart(known.get("density scratch"), writer), *_trails_apart(report, writer))
        found.append(_reduced(swirls, report, writer, also=apart))
    return tuple(found)


def _scratches_apart(row: FigureRow | None, writer: Writer) -> tuple[str, ...]:
    """Swirl marks give way sooner than scratches: what is said of them must not stand for both."""
    if row is None:
        return (writer.tell("Scratches are not in it, and there is no mean of theirs: say so."),)
    if row.outcome == "nothing before":
        return ()
    return (writer.tell("Scratches are not in it, say so: {change}.", change=_row_words(row, writer)),)


def _trails_apart(report: Report, writer: Writer) -> tuple[str, ...]:
    """Polishing that takes swirl marks away and leaves trails has not only taken away."""
    rows = ((panel.name, row) for panel in report.compared for row in panel.figures)
    fresh = [
        f"{name} {row.after_text} {row.unit}"
        for name, row in rows
        if row.figure == "density trail" and (row.after or 0.0) > (row.before or 0.0)
    ]
    if not fresh:
        return ()
    return (
        writer.tell(
            "Buffer trails that polishing left are not in it, say so: {panels}.", panels=writer.listed(fresh)
        ),
    )


def _reduced(row: FigureRow, report: Report, writer: Writer, *, also: tuple[str, ...] = ()) -> Statement:
    values = {"change": _row_words(row, writer), "where": _where(report, writer)}
    words = (
        writer.tell("Visible swirl marks {change} {where}, under the conditions below.", **values)
        if row.figure == "density swirl"
        else writer.tell("Visible marks {change} {where}, under the conditions below.", **values)
    )
    why = writer.tell(
        "Every measured panel is in it, with its interval, and the least improved one is named below."
    )
    return Statement(words=words, supported=True, why=(why, *also, *cares(report, writer)))


def _row_words(row: FigureRow, writer: Writer) -> str:
    """Change with its interval."""
    if not row.interval_text:
        return row.change_text
    return writer.tell(
        "{change} (95 % interval {interval})", change=row.change_text, interval=row.interval_text
    )


def _why_not_reduced(row: FigureRow | None, report: Report, writer: Writer) -> tuple[str, ...]:
    if not report.tally.compared:
        reasons = dict.fromkeys(reason for panel in report.panels for reason in panel.reasons)
        return (writer.tell("No panel's photographs can be compared."), *reasons)
    if went_apart(report.compared):
        return (writer.tell("Some panels have fewer marks and others more: no one figure speaks for both."),)
    if of_two_kinds(report.panels):
        return (writer.tell("Some panels were filmed and others photographed: their figures make no mean."),)
    if row is None:
        return (
            writer.tell(
                "There is no mean with an interval: it needs at least two panels that can be compared, each "
                "with an interval of its own."
            ),
        )
    if not row.interval_text:
        return (writer.tell("There is no interval: {change}.", change=row.change_text),)
    return (
        writer.tell(
            "The interval does not exclude that nothing changed ({interval}).", interval=row.interval_text
        ),
    )


def _where(report: Report, writer: Writer) -> str:
    """How many places of what size on how many panels."""
    tally, size = report.tally, places_words(report, writer=writer)
    if tally.measured == 1:
        return writer.tell(
            "on one panel ({panel}) of one car ({places})", panel=report.panels[0].name, places=size
        )
    values = {"compared": tally.compared, "measured": tally.measured, "places": size}
    if tally.not_comparable:
        return writer.tell(
            "on {compared} of {measured} measured panels of one car ({apart} cannot be compared; {places})",
            apart=tally.not_comparable,
            **values,
        )
    return writer.tell("on {measured} panels of one car, all that were measured ({places})", **values)


def _panel_words(panel: PanelSection, writer: Writer) -> str:
    return _row_words(panel.figure("density all"), writer)


def _say_with_it(report: Report, writer: Writer) -> tuple[str, ...]:
    """Conditions that a supported sentence has to carry."""
    compared = report.compared
    said = [
        writer.tell_many(
            "Of this job only: {number} panel of one car, chosen by the shop.",
            "Of this job only: {number} panels of one car, chosen by the shop.",
            report.tally.measured,
        )
    ]
    if len(compared) > 1:
        least = max(compared, key=lambda panel: panel.figure("density all").change_percent or 0.0)
        said.append(
            writer.tell(
                "The least improved panel is {panel}: {change}.",
                panel=least.name,
                change=_panel_words(least, writer),
            )
        )
    if report.tally.not_comparable:
        names = writer.listed(report.apart)
        said.append(writer.tell("Not comparable and without a percentage: {panels}.", panels=names))
    said.append(
        writer.tell("Visible marks, by length per area, under one inspection lamp, the same by every check.")
        if same_lamp(report)
        else writer.tell("Visible marks, by length per area, under one inspection lamp.")
    )
    if any(panel.word != "removed" for panel in compared):
        said.append(
            writer.tell("Less visible, not removed: the paint was not shown bare after a solvent wipe.")
        )
    elif compared:
        said.append(writer.tell("Wiped with solvent before the photograph, by the shop's own entry."))
    said += [f"{panel.name}: {panel.by_hand}" for panel in report.panels if panel.by_hand]
    return (*said, *report.conditions)
