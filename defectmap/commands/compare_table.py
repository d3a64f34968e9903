"""A comparison and a set-up's repeatability as text for the terminal."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich import box
from rich.table import Table

from defectmap.comparison.outcome import Change, Comparison
from defectmap.comparison.setup_profile import SetupProfile

if TYPE_CHECKING:
    from rich.console import Console

_NAMES = {
    "density all": "marks, all kinds",
    "density swirl": "  swirl marks",
    "density scratch": "  scratches",
    "longest scratch": "longest scratch",
    "haze": "haze",
    "score": "finish score",
}


def print_comparison(console: Console, comparison: Comparison) -> None:
    """Print verdict, reasons, figures with intervals, and the words that may be used."""

    def say(words: str, style: str = "") -> None:
        console.print(words, style=style, markup=False, highlight=False, soft_wrap=True)

    verdict = comparison.comparable.verdict
    say(f"Comparable: {verdict}", style="green" if verdict == "yes" else "yellow")
    for reason in comparison.comparable.reasons:
        say(f"  {reason.verdict}: {reason.sentence}")
    if comparison.changes:
        console.print(_table(comparison))
        say(f"The intervals speak of {comparison.scope}.")
        say(comparison.claim.reason)
    else:
        say("No percentage is given.")
    for note in comparison.claim.notes:
        say(note)
    if comparison.rebound:
        say(comparison.rebound.sentence)
    for warning in comparison.warnings:
        say(warning, style="yellow")


def print_setup(console: Console, profile: SetupProfile) -> None:
    """Print how each figure repeats."""
    table = Table(title=f"{profile.shots} shots of one spot", title_justify="left", box=box.SIMPLE_HEAD)
    for head in (
        "figure",
        "mean",
        "repeatability\nSD, %",
        "repeatability\nlimit, %",
        "smallest change\nto be proved, %",
    ):
        table.add_column(head, justify="left" if head == "figure" else "right")
    for figure, scatter in profile.figures.items():
        table.add_row(
            _NAMES[figure],
            f"{scatter.mean:.3g}",
            f"{100 * scatter.relative:.1f}",
            f"{scatter.limit_percent:.1f}",
            f"{scatter.smallest_change_percent:.1f}",
        )
    console.print(table)
    for warning in profile.warnings:
        console.print(warning, style="yellow", markup=False, highlight=False, soft_wrap=True)


def change_words(change: Change) -> str:
    """The change as a person reads it: percent, interval, and whether it can be told from none.

    Examples
    --------
    >>> change_words(Change(figure="haze", before=0.2, after=0.1, change_percent=-50.0,
    ...                     ci95_percent=(-60.0, -38.0), distinguishable=True))
    '-50 % (-60 to -38 %)'
    """
    if change.at_least_percent is not None:
        return (
            f"at least {math.floor(change.at_least_percent)} % less"
            if change.at_least_percent
            else "none seen"
        )
    if change.change_percent is None:
        return "no percentage"
    words = f"{change.change_percent:+.0f} %"
    if change.ci95_percent is not None:
        words += f" ({change.ci95_percent[0]:+.0f} to {change.ci95_percent[1]:+.0f} %)"
    return words


def _table(comparison: Comparison) -> Table:
    table = Table(box=box.SIMPLE_HEAD)
    for head in ("figure", "before", "after", "unit", "change (95 % interval)", ""):
        table.add_column(head, justify="right" if head in ("before", "after") else "left")
    for change in comparison.changes:
        table.add_row(
            _NAMES[change.figure],
            f"{change.before:.3g}",
            f"{change.after:.3g}",
            change.unit,
            change_words(change),
            change.note,
        )
    return table
