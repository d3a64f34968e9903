"""A comparison and a set-up's repeatability as text for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

from defectmap.comparison.outcome import Comparison
from defectmap.comparison.repeatability import repeatability_limit
from defectmap.comparison.setup_profile import SetupProfile
from defectmap.words.changes import full_change
from defectmap.words.claim_words import CLAIMS, REBOUND
from defectmap.words.comparison_words import CHANGES, REASONS, WARNINGS
from defectmap.words.remark import sentence
from defectmap.words.report_words import figure_name, figure_unit

if TYPE_CHECKING:
    from rich.console import Console


def print_comparison(console: Console, comparison: Comparison) -> None:
    """Print verdict, reasons, figures with intervals, and the words that may be used."""

    def say(words: str, style: str = "") -> None:
        console.print(words, style=style, markup=False, highlight=False, soft_wrap=True)

    verdict = comparison.comparable.verdict
    say(f"Comparable: {verdict}", style="green" if verdict == "yes" else "yellow")
    for reason in comparison.comparable.reasons:
        say(f"  {reason.verdict}: {sentence(reason, REASONS)}")
    if comparison.changes:
        console.print(_table(comparison))
        say(f"The intervals speak of {comparison.scope}.")
        for because in comparison.claim.reasons:
            say(sentence(because, CLAIMS))
    else:
        say("No percentage is given.")
    for note in comparison.claim.notes:
        say(sentence(note, CLAIMS))
    if comparison.rebound:
        say(sentence(comparison.rebound.remark, REBOUND))
    for warning in comparison.warnings:
        say(sentence(warning, WARNINGS), style="yellow")


def print_setup(console: Console, profile: SetupProfile) -> None:
    """Print how each figure repeats."""
    several = profile.phones > 1
    title = f"{profile.shots} shots of one spot" + (f", {profile.phones} phones" if several else "")
    table = Table(title=title, title_justify="left", box=box.SIMPLE_HEAD)
    heads = ["figure", "mean", "repeatability\nSD, %", "repeatability\nlimit, %"]
    heads += ["reproducibility\nSD, %", "reproducibility\nlimit, %"] if several else []
    for head in (*heads, "smallest change\nto be proved, %"):
        table.add_column(head, justify="left" if head == "figure" else "right")
    for figure, scatter in profile.figures.items():
        cells = [f"{scatter.mean:.3g}", f"{100 * scatter.relative:.1f}", f"{scatter.limit_percent:.1f}"]
        if several:
            any_phone = scatter.reproducibility
            of_both = (any_phone, None if any_phone is None else repeatability_limit(any_phone))
            cells += ["–" if one is None else f"{100 * one:.1f}" for one in of_both]
        table.add_row(figure_name(figure), *cells, f"{scatter.smallest_change_percent:.1f}")
    console.print(table)
    own = (scatter.own_zones for name, scatter in profile.figures.items() if name == "density all")
    for found in (one for one in own if one is not None):
        words = (
            "Densities are those of the area that the shots share, as in a comparison; each shot in its own "
            f"zone, as `measure` counts, all marks scatter by {100 * found:.1f} %."
        )
        console.print(words, markup=False, highlight=False, soft_wrap=True)
    for warning in profile.warnings:
        words = sentence(warning, WARNINGS)
        console.print(words, style="yellow", markup=False, highlight=False, soft_wrap=True)


def _table(comparison: Comparison) -> Table:
    calibrated = all(spot.before.scale.calibrated for spot in comparison.spots)
    table = Table(box=box.SIMPLE_HEAD)
    for head in ("figure", "before", "after", "unit", "change", ""):
        table.add_column(head, justify="right" if head in ("before", "after") else "left")
    for change in comparison.changes:
        table.add_row(
            figure_name(change.figure),
            *("–" if math.isnan(value) else f"{value:.3g}" for value in (change.before, change.after)),
            figure_unit(change.figure, calibrated=calibrated),
            full_change(change),
            sentence(change.remark, CHANGES) if change.remark else "",
        )
    return table
