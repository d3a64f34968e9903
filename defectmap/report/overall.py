"""All panels together: how many got better, by how much, and which one stands in the middle.

Every measured panel counts, whatever came out. Two intervals answer two questions. That of the mean density
of these very panels joins their own intervals and speaks of what was photographed. That of a sample takes
each panel as one value
(`defectmap.comparison.spots.panel_change`: ratio of means, paired, Student's factor for
the number of panels): what would hold for another panel, and wide where panels differ, since many marks on
one panel say nothing of the next one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from defectmap.comparison.interval import mean_interval
from defectmap.comparison.outcome import Change, Figure
from defectmap.comparison.spots import panel_change
from defectmap.comparison.tuning import PANEL_SPOTS
from defectmap.report.content import FigureRow, PanelSection, Tally
from defectmap.report.sections import row_of
from defectmap.words.writer import ENGLISH, N_, Writer

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


def of_two_kinds(panels: Sequence[PanelSection]) -> bool:
    """Whether some panels were filmed and others photographed: their densities make no mean."""
    return len({bool(panel.filmed) for panel in panels if panel.compared}) > 1


def went_apart(panels: Sequence[PanelSection]) -> bool:
    """Whether some panels provably have fewer marks and others more: one mean would hide both."""
    outcomes = {panel.figure("density all").outcome for panel in panels}
    return "more" in outcomes and bool(outcomes & {"less", "nothing left"})


def together(panels: Sequence[PanelSection], *, writer: Writer = ENGLISH) -> tuple[FigureRow, ...]:
    """Change of the panels' mean density, for each density that has one.

    Densities are averaged and not percentages: a panel with few marks must not outweigh one with many. Each
    panel's change has the weight of its density before, and the interval joins the panels' own ones
    (`mean_interval`). Where one panel has no interval there is no row, and where panels went apart there is
    none at all.
    """
    compared = [panel for panel in panels if panel.compared]
    if len(compared) < 2 or went_apart(compared) or of_two_kinds(compared):
        return ()
    if not all(panel.calibrated for panel in compared):
        return ()
    rows = [_mean_row(figure, [panel.figure(figure) for panel in compared], writer) for figure in TOGETHER]
    return tuple(row for row in rows if row is not None)


def _mean_row(figure: Figure, rows: Sequence[FigureRow], writer: Writer) -> FigureRow | None:
    changes, intervals, weights = [], [], []
    for row in rows:
        if row.outcome == "nothing before" and not row.after:
            continue  # clean before and after: it adds nothing to either mean
        interval = row.ci95_percent
        if row.change_percent is None or interval is None or None in interval or not row.before:
            return None
        changes.append(row.change_percent)
        intervals.append(interval)
        weights.append(row.before)
    if not changes:
        return None
    before = math.fsum(row.before or 0.0 for row in rows) / len(rows)
    after = math.fsum(row.after or 0.0 for row in rows) / len(rows)
    low, high = mean_interval(changes, intervals, weights=weights)
    numbers = {
        "before": before,
        "after": after,
        "change_percent": math.fsum(w * c for w, c in zip(weights, changes, strict=True))
        / math.fsum(weights),
        "ci95_percent": (low, high),
        "distinguishable": not low <= 0 <= high,
        "note": writer.tell("Mean density of the panels, before and after."),
    }
    return row_of(figure, numbers, compared=True, calibrated=True, writer=writer)


def sample(panels: Sequence[PanelSection], *, writer: Writer = ENGLISH) -> FigureRow | None:
    """Change of all marks with the panels as a sample of such panels; None below three, or without a scale.

    Far wider than the mean over these very panels where panels differ: it is what would have to be said of
    another one.
    """
    compared = [panel for panel in panels if panel.compared]
    if len(compared) < PANEL_SPOTS or of_two_kinds(compared):
        return None
    if not all(panel.calibrated for panel in compared):
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
        "note_code": found.remark.code if found.remark else None,
        "note_values": found.remark.values if found.remark else {},
    }
    return row_of("density all", numbers, compared=True, calibrated=True, writer=writer)


def headline(tally: Tally, *, writer: Writer = ENGLISH) -> str:
    """One sentence that a customer can repeat; what got worse comes first.

    Examples
    --------
    >>> headline(Tally(measured=5, less=4, more=0, undecided=1, not_comparable=0))
    'Fewer marks show on 4 of 5 panels than before. No measurable change on 1 panel.'
    """
    if tally.measured == 1:
        return _headline_of_one(tally, writer)
    said = []
    if tally.more:
        said.append(
            writer.tell_many(
                "More marks show on {number} panel than before.",
                "More marks show on {number} panels than before.",
                tally.more,
            )
        )
    less = {"less": tally.less, "all": tally.measured}
    if tally.less == tally.measured:
        every = N_("Fewer marks show on both panels than before.")
        if tally.measured > 2:
            every = N_("Fewer marks show on all {all} panels than before.")
        said.append(writer.tell(every, **less))
    elif tally.less:
        said.append(writer.tell("Fewer marks show on {less} of {all} panels than before.", **less))
    else:
        said.append(writer.tell("On none of the {all} panels are fewer marks proven.", **less))
    if tally.undecided:
        said.append(
            writer.tell_many(
                "No measurable change on {number} panel.",
                "No measurable change on {number} panels.",
                tally.undecided,
            )
        )
    if tally.not_comparable:
        said.append(
            writer.tell_many(
                "{number} panel cannot be compared.",
                "{number} panels cannot be compared.",
                tally.not_comparable,
            )
        )
    return " ".join(said)


def _headline_of_one(tally: Tally, writer: Writer) -> str:
    if tally.not_comparable:
        return writer.tell("Before and after cannot be compared.")
    if tally.less:
        return writer.tell("Fewer marks show than before.")
    if tally.more:
        return writer.tell("More marks show than before.")
    return writer.tell("No measurable change.")


def summary(
    panels: Sequence[PanelSection], tally: Tally, rows: Sequence[FigureRow], *, writer: Writer = ENGLISH
) -> tuple[str, ...]:
    """Two to five sentences under the headline."""
    compared = [panel for panel in panels if panel.compared]
    said: list[str] = []
    if len(panels) == 1:
        said.append(panels[0].headline)
    elif went_apart(compared):
        said.append(
            writer.tell("The panels went apart, so there is no mean: {panels}.", panels=_one_by_one(compared))
        )
    elif of_two_kinds(compared):
        said.append(
            writer.tell(
                "Some panels were filmed and others photographed. A film shows more marks, so there is no "
                "mean: {panels}.",
                panels=_one_by_one(compared),
            )
        )
    elif rows and rows[0].figure == "density all":
        said.append(_together_sentence(rows[0], panels, writer))
    if tally.not_comparable and len(panels) > 1:
        names = writer.listed([panel.name for panel in panels if not panel.compared])
        said.append(
            writer.tell(
                "Not comparable: {panels}. The reasons stand with the figures; no percentage is given there.",
                panels=names,
            )
        )
    said.append(_word_sentence(compared, len(panels), writer))
    if any(panel.scope != "the panel" for panel in compared):
        said.append(writer.tell("The figures speak of the places that were photographed."))
    return tuple(sentence for sentence in said if sentence)


def _one_by_one(compared: Sequence[PanelSection]) -> str:
    """Panel by panel, where there is no mean."""
    return "; ".join(
        f"{panel.name}: {panel.figure('density all').change_text}" for panel in _from_worst(compared)
    )


def _together_sentence(row: FigureRow, panels: Sequence[PanelSection], writer: Writer) -> str:
    compared = _from_worst([panel for panel in panels if panel.compared])
    values = {
        "number": len(compared),
        "change": row.change_text,
        "range": row.interval_text,
        "least": compared[0].name,
        "least_change": compared[0].figure("density all").change_text,
    }
    if row.outcome not in ("less", "more"):
        return writer.tell(
            "Over the {number} panels together there is no measurable change (range {range}). "
            "Least improved: {least}, {least_change}.",
            **values,
        )
    if len(compared) < len(panels):
        return writer.tell(
            "Over the {number} panels that can be compared, visible marks are {change} (range {range}). "
            "Least improved: {least}, {least_change}.",
            **values,
        )
    return writer.tell(
        "Over the {number} panels together, visible marks are {change} (range {range}). "
        "Least improved: {least}, {least_change}.",
        **values,
    )


def _word_sentence(compared: Sequence[PanelSection], measured: int, writer: Writer) -> str:
    if not compared:
        return ""
    hidden = [panel.name for panel in compared if panel.word != "removed"]
    if not hidden:
        return writer.tell(
            "By the shop's own entry every panel was wiped with solvent before it was photographed again, so "
            "that polishing oils hide no marks."
        )
    if len(hidden) == measured:
        return writer.tell(
            "Marks may be hidden and not gone: nothing on record says that the paint was wiped with solvent "
            "and bare when it was photographed after the work."
        )
    return writer.tell(
        "Marks may be hidden and not gone ({panels}): nothing on record says that the paint was wiped with "
        "solvent and bare when it was photographed after the work.",
        panels=writer.listed(hidden),
    )


def middle_panel(panels: Sequence[PanelSection]) -> PanelSection | None:
    """The compared panel whose change stands in the middle; of two, the one with less improvement.

    A rule, so that the picture on the first page is nobody's choice.
    """
    ranked = _from_worst([panel for panel in panels if panel.compared and panel.pairs])
    return ranked[(len(ranked) - 1) // 2] if ranked else None


def _from_worst(panels: Sequence[PanelSection]) -> list[PanelSection]:
    return sorted(panels, key=lambda panel: -(panel.figure("density all").change_percent or 0.0))
