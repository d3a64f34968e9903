"""The clear coat as one bar: what stays, what is spent, what may still come off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from defectmap.pages.widgets.interval_bar import DARK, LIGHT
from defectmap.words.writer import ENGLISH, Writer

if TYPE_CHECKING:
    from defectmap.trade.budget import Budget

# About as wide as a phone shows it, so that words keep their size there.
WIDTH, HEIGHT, LEFT, TOP, THICK = 420.0, 90.0, 8.0, 28.0, 28.0


def budget_words(budget: Budget, writer: Writer = ENGLISH) -> str:
    """The same in one sentence."""
    if not budget.known:
        return "How much clear coat there is was not measured, so no correction is advised yet."
    spent = budget.spent_um
    used = (
        f"{writer.film(spent.high, 1)} at most is spent on this job"
        if spent.high
        else "nothing is spent on this job yet"
    )
    return (
        f"Clear coat taken as {writer.film(budget.clear_um.low)}: {used}, "
        f"{writer.film(budget.left_um, 1)} may still come off, and {writer.film(stays_um(budget), 1)} stay "
        f"(never less than {writer.film(budget.keep_um)}, never more than "
        f"{writer.film(budget.lifetime_um, 1)} off over the life of the paint). It does not grow back."
    )


def stays_um(budget: Budget) -> float:
    """What stays of the clear coat when everything that may come off has come off."""
    return max(0.0, budget.clear_um.low - budget.spent_um.high - budget.left_um)


def budget_svg(budget: Budget, *, writer: Writer = ENGLISH, dark: bool = False) -> str:
    """Draw the bar; patterns tell the parts apart without their colours."""
    look = DARK if dark else LIGHT
    stays = stays_um(budget)
    scale = (WIDTH - 2 * LEFT) / max(stays + budget.spent_um.high + budget.left_um, 1.0)
    parts = (
        ("stays", stays, look["line"], 1.0),
        ("may come off", budget.left_um, look["bar"], 1.0),
        ("spent", budget.spent_um.high, "url(#spent)", 1.0),
    )
    x, drawn = LEFT, []
    for number, (name, um, fill, opacity) in enumerate(parts):
        wide = um * scale
        drawn.append(
            f'<rect x="{x:.1f}" y="{TOP}" width="{wide:.1f}" height="{THICK}" fill="{fill}" '
            f'fill-opacity="{opacity}" stroke="{look["ink"]}"/>'
        )
        if um > 0:
            # Names of narrow parts would run into each other: above and below the bar by turns.
            y = TOP - 8 if number % 2 else TOP + THICK + 20
            # Words that start in the right half would run out of the picture: they end there instead.
            at, anchor = (x + wide, "end") if number == 2 or x > WIDTH / 2 else (x, "start")
            drawn.append(
                f'<text x="{at:.1f}" y="{y}" font-size="15" text-anchor="{anchor}" fill="{look["ink"]}">'
                f"{name} {writer.film(um, 1)}</text>"
            )
        x += wide
    pattern = (
        '<defs><pattern id="spent" width="8" height="8" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="4" height="8" fill="{look["ink"]}"/></pattern></defs>'
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'font-family="system-ui, sans-serif">{pattern}{"".join(drawn)}</svg>'
    )
