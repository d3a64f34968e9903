"""All panels together: how many got better, by how much, and which one stands in the middle.

Every measured panel counts, whatever came out. Two intervals answer two questions. That of the mean over
these very panels joins their own intervals and speaks of what was photographed. That of a sample takes each
panel as one value (`defectmap.comparison.spots.panel_change`: ratio of means, paired, Student's factor for
the number of panels): what would hold for another panel, and wide where panels differ, since many marks on
one panel say nothing of the next one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from defectmap.comparison.interval import mean_interval
from defectmap.comparison.outcome import Change, Figure
from defectmap.comparison.spots import PANEL_SPOTS, panel_change
from defectmap.report.content import FigureRow, PanelSection, Tally
from defectmap.report.sections import row_of
from defectmap.words.comparison_words import CHANGES
from defectmap.words.remark import sentence
from defectmap.words.report_words import counted, listed

TOGETHER: tuple[Figure, ...] = ("density all", "density swirl", "density scratch")


def tally_of(panels: Sequence[PanelSection]) -> Tally:
    """Count the panels by what became of their visible marks."""
    outcomes = [panel.figure("density all").outcome for panel in panels]
    less = sum(outcome in ("less", "nothing left") for outcome in outcomes)
    more, apart = outcomes.count("more"), outcomes.count("not comparable")
    return Tally(
        measured=len(panels),
        less=less,
        more=more,
        undecided=len(panels) - less - more - apart,
        not_comparable=apart,
    )


def together(panels: Sequence[PanelSection]) -> tuple[FigureRow, ...]:
    """Mean change over all compared panels, each counting the same, for each density that has one.

    The interval speaks of the places that were photographed on these panels. It joins the panels' own
    intervals (`mean_interval`); where one panel has none, neither has the mean, and there is no row.
    """
    compared = [panel for panel in panels if panel.compared]
    if len(compared) < 2:
        return ()
    rows = [_mean_row(figure, [panel.figure(figure) for panel in compared]) for figure in TOGETHER]
    return tuple(row for row in rows if row is not None)


def _mean_row(figure: Figure, rows: Sequence[FigureRow]) -> FigureRow | None:
    values = [row.change_percent for row in rows if row.change_percent is not None]
    intervals = [
        row.ci95_percent for row in rows if row.ci95_percent is not None and None not in row.ci95_percent
    ]
    if not len(values) == len(intervals) == len(rows):
        return None
    interval = mean_interval(values, intervals)
    numbers = {
        "change_percent": math.fsum(values) / len(values),
        "ci95_percent": interval,
        "distinguishable": not interval[0] <= 0 <= interval[1],
        "note": "Mean of the panels' changes, each panel counting the same.",
    }
    return row_of(figure, numbers, compared=True, calibrated=True)


def sample(panels: Sequence[PanelSection]) -> FigureRow | None:
    """Change of all marks with the panels as a sample of such panels; None below three, or without a scale.

    Far wider than the mean over these very panels where panels differ: it is what would have to be said of
    another one.
    """
    compared = [panel for panel in panels if panel.compared]
    if len(compared) < PANEL_SPOTS or not all(panel.calibrated for panel in compared):
        return None
    rows = [panel.figure("density all") for panel in compared]
    found = panel_change(
        [
            Change(
                figure="density all",
                before=row.before or 0.0,
                after=row.after or 0.0,
                change_percent=row.change_percent,
                at_least_percent=row.at_least_percent,
            )
            for row in rows
        ]
    )
    numbers = {
        "before": found.before,
        "after": found.after,
        "change_percent": found.change_percent,
        "ci95_percent": found.ci95_percent,
        "distinguishable": found.distinguishable,
        "at_least_percent": found.at_least_percent,
        "note": sentence(found.remark, CHANGES) if found.remark else "",
    }
    return row_of("density all", numbers, compared=True, calibrated=True)


def headline(tally: Tally) -> str:
    """One sentence that a customer can repeat.

    Examples
    --------
    >>> headline(Tally(measured=5, less=4, more=0, undecided=1, not_comparable=0))
    'Fewer marks show on 4 of 5 panels than before; on 1 panel no change can be proven.'
    """
    if tally.measured == 1:
        return _headline_of_one(tally)
    rest = [
        f"on {counted(tally.more, 'panel')} more marks show" if tally.more else "",
        f"on {counted(tally.undecided, 'panel')} no change can be proven" if tally.undecided else "",
        f"{counted(tally.not_comparable, 'panel')} cannot be compared" if tally.not_comparable else "",
    ]
    if tally.less == tally.measured:
        first = f"Fewer marks show on all {tally.measured} panels than before"
    elif tally.less:
        first = f"Fewer marks show on {tally.less} of {tally.measured} panels than before"
    else:
        first = f"On none of the {tally.measured} panels are fewer marks proven"
    return f"{'; '.join(part for part in (first, *rest) if part)}."


def _headline_of_one(tally: Tally) -> str:
    if tally.not_comparable:
        return "Before and after cannot be compared."
    if tally.less:
        return "Fewer marks show than before."
    return "More marks show than before." if tally.more else "No change can be proven."


def summary(panels: Sequence[PanelSection], tally: Tally, rows: Sequence[FigureRow]) -> tuple[str, ...]:
    """Two to four sentences under the headline."""
    said: list[str] = []
    if len(panels) == 1:
        said.append(panels[0].headline)
    elif rows and rows[0].figure == "density all":
        said.append(_together_sentence(rows[0], panels))
    if tally.not_comparable and len(panels) > 1:
        names = listed([panel.name for panel in panels if not panel.compared])
        said.append(
            f"Not comparable: {names}. The reasons stand with the figures; no percentage is given there."
        )
    said.append(_word_sentence(panels))
    if any(panel.scope != "the panel" for panel in panels if panel.compared):
        said.append("The figures speak of the places that were photographed.")
    return tuple(sentence for sentence in said if sentence)


def _together_sentence(row: FigureRow, panels: Sequence[PanelSection]) -> str:
    compared = [panel for panel in panels if panel.compared]
    over = f"the {len(compared)} panels" + (" that can be compared" if len(compared) < len(panels) else "")
    least = min(compared, key=lambda panel: _improvement(panel.figure("density all")))
    worst = f"The least improved is {least.name}: {least.figure('density all').change_text}."
    if row.outcome in ("less", "more"):
        return (
            f"On average over {over}, the length of visible marks per cm² is {row.change_text} "
            f"(95 % interval {row.interval_text}). {worst}"
        )
    return f"On average over {over}, no change is proven (95 % interval {row.interval_text}). {worst}"


def _word_sentence(panels: Sequence[PanelSection]) -> str:
    compared = [panel for panel in panels if panel.compared]
    if not compared:
        return ""
    hidden = [panel.name for panel in compared if panel.word != "removed"]
    if not hidden:
        return (
            "The photographs after the work were taken after a solvent wipe, so polishing oils did not hide "
            "marks."
        )
    where = "" if len(hidden) == len(panels) else f" ({listed(hidden)})"
    return (
        f"Marks may be hidden and not gone{where}: nothing shows that the paint was wiped with solvent and "
        "bare when it was photographed after the work."
    )


def middle_panel(panels: Sequence[PanelSection]) -> PanelSection | None:
    """The compared panel whose change stands in the middle; of two, the one with less improvement.

    A rule, so that the picture on the first page is nobody's choice.
    """
    shown = [panel for panel in panels if panel.compared and panel.pairs]
    ranked = sorted(shown, key=lambda panel: _improvement(panel.figure("density all")))
    return ranked[(len(ranked) - 1) // 2] if ranked else None


def _improvement(row: FigureRow) -> float:
    return -(row.change_percent or 0.0)
