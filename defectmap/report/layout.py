"""What the page and the PDF share: signs, the length of bars, which pictures come where."""

from __future__ import annotations

from defectmap.report.content import Audience, Outcome, PicturePair, Report

# A sign beside the words and the colour, so that none of the three is needed alone.
SIGNS: dict[Outcome, str] = {
    "less": "▼",
    "nothing left": "▼",
    "more": "▲",
    "no provable change": "=",
    "no interval": "?",
    "nothing before": "–",
    "not comparable": "×",
}


def bar_share(value: float | None, widest: float) -> float:
    """Length of a bar against the longest one, 0 to 1.

    Examples
    --------
    >>> bar_share(3.0, 12.0), bar_share(None, 12.0), bar_share(0.0, 0.0)
    (0.25, 0.0, 0.0)
    """
    return min(1.0, max(0.0, value / widest)) if value is not None and widest > 0 else 0.0


def widest_bar(report: Report) -> float:
    """The largest density of all panels, before or after."""
    rows = [panel.figure("density all") for panel in report.panels]
    return max((value for row in rows for value in (row.before, row.after) if value is not None), default=0.0)


def facts_of(report: Report) -> tuple[str, ...]:
    """The line under the title."""
    said = (
        report.vehicle,
        f"for {report.customer}" if report.customer else None,
        f"job {report.reference}" if report.reference else None,
        report.made_on,
    )
    return tuple(fact for fact in said if fact)


def left_heading(report: Report) -> str:
    """Heading of what is left; it promises a reason only where one is on record."""
    return "What is left, and why" if any(entry.why for entry in report.left) else "What is left"


def other_pairs(report: Report, audience: Audience) -> tuple[PicturePair, ...]:
    """Pictures beyond the one on the first page: every panel's first, or in the full version every one."""
    shown = [
        pair
        for panel in report.panels
        for pair in (panel.pairs if audience == "full" else first_of_each_spot(panel.pairs))
    ]
    return tuple(pair for pair in shown if pair is not report.typical)


def first_of_each_spot(pairs: tuple[PicturePair, ...]) -> tuple[PicturePair, ...]:
    """The first picture of each place."""
    seen: dict[str, PicturePair] = {}
    for pair in pairs:
        seen.setdefault(pair.panel, pair)
    return tuple(seen.values())
