"""What was agreed with the customer beside what came out: met or not, judged by its range."""

from __future__ import annotations

from collections.abc import Mapping

from defectmap.record.advise import PanelAdvice
from defectmap.report.content import AgreedEntry, Met
from defectmap.trade.condition import Condition
from defectmap.trade.judging import Estimate, judge
from defectmap.trade.targets import Limited
from defectmap.words.report_words import ReportFigure, figure_name, figure_unit, figure_words, plain_words
from defectmap.words.writer import ENGLISH, Writer

FIGURES: Mapping[Limited, ReportFigure] = {
    "density": "density all",
    "trail": "density trail",
    "longest scratch": "longest scratch",
    "haze": "haze",
}


def agreed_entries(
    state: PanelAdvice, after: Condition | None, *, writer: Writer = ENGLISH
) -> tuple[AgreedEntry, ...]:
    """Each figure that was agreed for a panel, beside its result over the photographs' own zones.

    Parameters
    ----------
    state : PanelAdvice
        Holds what was agreed.
    after : Condition or None
        What was photographed after the work; None where nothing was.
    writer : Writer, optional
        Of the shop.
    """
    limits = state.limits
    most: dict[Limited, float | None] = {
        "density": limits.density_mm_per_cm2,
        "trail": limits.trail_mm_per_cm2,
        "longest scratch": limits.longest_scratch_mm,
        "haze": limits.haze,
    }
    found: dict[Limited, Estimate | None] = dict.fromkeys(most)
    if after is not None and after.calibrated:
        found = {
            "density": after.density,
            "trail": after.trail,
            "longest scratch": after.longest_scratch,
            "haze": after.haze,
        }
    films = after is not None and after.directions_share is not None
    return tuple(
        _entry(state.advice.panel, FIGURES[name], limit, found[name], writer, films=films and name != "haze")
        for name, limit in most.items()
        if name in limits.agreed and limit is not None
    )


def _entry(
    panel: str, figure: ReportFigure, limit: float, result: Estimate | None, writer: Writer, *, films: bool
) -> AgreedEntry:
    met = _met(result, limit)
    if films and met == "not met":
        met = "cannot be said"  # a film shows more than the photograph that the limit was meant for
    unit = figure_unit(figure, writer=writer)
    shown = figure_words(figure, None if result is None else result.value, writer=writer)
    return AgreedEntry(
        panel=plain_words(writer.term(panel)),
        what=figure_name(figure, writer=writer),
        agreed=f"{figure_words(figure, limit, writer=writer)} {unit}".strip(),
        result=writer.tell("{value} {unit} (own zone)", value=shown, unit=unit)
        if result is not None and unit
        else shown,
        met=met,
        met_text={
            "met": writer.tell("met"),
            "not met": writer.tell("not met"),
            "cannot be said": writer.tell("only filmed: it shows more than a photograph")
            if films
            else writer.tell("the range reaches across it")
            if result is not None
            else writer.tell("no photograph after a wipe"),
        }[met],
    )


def _met(result: Estimate | None, limit: float) -> Met:
    if result is None:
        return "cannot be said"
    met: dict[str, Met] = {"reached": "met", "not reached": "not met", "undecided": "cannot be said"}
    return met[judge(result, limit)]
