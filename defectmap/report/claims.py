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

from defectmap.report.content import FigureRow, PanelSection, Report
from defectmap.report.typical import JobResult, TypicalResult, typical_result
from defectmap.words.report_words import change_words, counted, interval_words, listed, percent

RULES = (
    "Advertising rules differ by place and change. Check those that hold where you advertise, or ask "
    "somebody who is licensed to advise on them, before you publish. This sheet is no legal advice.",
    "Many places ask that proof of an objective claim is in your hands before it is published: keep this "
    "sheet, the full report and the unchanged photographs (for example the US Federal Trade Commission's "
    "policy statement on advertising substantiation of 1984, and rule 3.7 of the UK's CAP Code).",
    "Pictures are claims too: same light, same place, nothing retouched, and no better than what is usual.",
    "A sentence can be true and still mislead (for example EU Directive 2005/29/EC, article 6): do not drop "
    "the conditions, and do not set it in smaller print than the percentage.",
)
NEVER = (
    (
        "All scratches and swirl marks removed. A flawless, perfect or 100 % corrected finish.",
        "Marks below the detection limit, and those that point at the lamp, are not seen: nothing can show "
        "that there are none.",
    ),
    (
        "It lasts. It stays swirl-free.",
        "Nothing here was measured weeks or months later, and washing makes new marks.",
    ),
    (
        "Without taking any paint. Safe for your clear coat.",
        "Polishing takes clear coat, and a gauge for the whole film does not show how much.",
    ),
    (
        "Measured to a standard. Certified. Independently tested.",
        "The method follows no standard, and whoever did the work took the photographs.",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One sentence, whether it is supported, and why."""

    words: str
    supported: bool
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimSheet:
    """Everything on the sheet."""

    title: str
    made_on: str
    program: str
    reference: str | None
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
    return ClaimSheet(
        title="What may be said of these results",
        made_on=report.made_on,
        program=report.program,
        reference=report.reference,
        panels=tuple((panel.name, _panel_words(panel)) for panel in report.panels),
        statements=(
            *_reductions(report),
            _removed(report),
            *_best_panel(report),
            _pictures(report),
            _typical(typical_result(jobs)),
            *(Statement(words=words, supported=False, why=(why,)) for words, why in NEVER),
        ),
        say_with_it=_say_with_it(report),
        rules=RULES,
    )


def _reductions(report: Report) -> tuple[Statement, ...]:
    """All marks and swirl marks, over the panels (or of the only one)."""
    rows = report.panels[0].figures if len(report.panels) == 1 else report.together
    known = {row.figure: row for row in rows}
    marks, swirls = known.get("density all"), known.get("density swirl")
    if marks is None or marks.outcome not in ("less", "nothing left"):
        why = _why_not_reduced(marks, report)
        return (Statement(words=f"Visible marks reduced {_where(report)}.", supported=False, why=why),)
    found = [_reduced(marks, report)]
    if swirls is not None and swirls.outcome in ("less", "nothing left"):
        apart = (*_scratches_apart(known.get("density scratch")), *_trails_apart(report))
        found.append(_reduced(swirls, report, also=apart))
    return tuple(found)


def _scratches_apart(row: FigureRow | None) -> tuple[str, ...]:
    """Swirl marks give way sooner than scratches: what is said of them must not stand for both."""
    if row is None:
        return ("Scratches are not in it, and there is no mean of theirs: say so.",)
    if row.outcome == "nothing before":
        return ()
    told = f" (95 % interval {row.interval_text})" if row.interval_text else ""
    return (f"Scratches are not in it, say so: {row.change_text}{told}.",)


def _trails_apart(report: Report) -> tuple[str, ...]:
    """Polishing that takes swirl marks away and leaves trails has not only taken away."""
    rows = ((panel.name, row) for panel in report.panels if panel.compared for row in panel.figures)
    fresh = [
        f"{name} {row.after_text} {row.unit}"
        for name, row in rows
        if row.figure == "density trail" and (row.after or 0.0) > (row.before or 0.0)
    ]
    if not fresh:
        return ()
    return (f"Buffer trails that polishing left are not in it, say so: {listed(fresh)}.",)


def _reduced(row: FigureRow, report: Report, *, also: tuple[str, ...] = ()) -> Statement:
    what = "Visible swirl marks" if row.figure == "density swirl" else "Visible marks"
    interval = f" (95 % interval {row.interval_text})" if row.outcome == "less" else ""
    where = f"{_where(report)}, measured under the conditions below."
    return Statement(
        words=f"{what} {row.change_text}{interval} {where}",
        supported=True,
        why=(
            "Every measured panel is in it, with its interval, and the least improved one is named below.",
            *also,
            *_cares(report),
        ),
    )


def _why_not_reduced(row: FigureRow | None, report: Report) -> tuple[str, ...]:
    if not report.tally.compared:
        reasons = dict.fromkeys(reason for panel in report.panels for reason in panel.reasons)
        return ("No panel's photographs can be compared.", *reasons)
    if row is None:
        return (
            "There is no mean with an interval: it needs at least two panels that can be compared, each with "
            "an interval of its own.",
        )
    if not row.interval_text:
        return (f"There is no interval: {row.change_text}.",)
    return (f"The interval does not exclude that nothing changed ({row.interval_text}).",)


def _where(report: Report) -> str:
    tally = report.tally
    if tally.measured == 1:
        return (
            f"at {counted(report.panels[0].spots, 'place')} on one panel ({report.panels[0].name}) of one car"
        )
    if tally.not_comparable:
        return (
            f"on {tally.compared} of {tally.measured} measured panels of one car ({tally.not_comparable} "
            "cannot be compared)"
        )
    return f"on {tally.measured} panels of one car, all that were measured"


def _cares(report: Report) -> tuple[str, ...]:
    careful = [panel for panel in report.panels if panel.verdict == "with care"]
    return tuple(f"With care, {panel.name}: {reason}" for panel in careful for reason in panel.reasons)


def _removed(report: Report) -> Statement:
    words = "Marks were removed (and not only hidden)."
    compared = [panel for panel in report.panels if panel.compared]
    hidden = [panel for panel in compared if panel.word != "removed"]
    proven = [panel for panel in compared if panel.figure("density all").outcome in ("less", "nothing left")]
    if not compared or len(compared) < len(report.panels):
        missing = listed([panel.name for panel in report.panels if not panel.compared]) or "every panel"
        return Statement(words=words, supported=False, why=(f"Not comparable: {missing}.",))
    if hidden:
        why = tuple(dict.fromkeys(f"{panel.name}: {panel.word_reason}" for panel in hidden))
        return Statement(words=words, supported=False, why=why)
    if len(proven) < len(compared):
        without = listed([panel.name for panel in compared if panel not in proven])
        return Statement(words=words, supported=False, why=(f"No reduction is proven on: {without}.",))
    return Statement(
        words=words,
        supported=True,
        why=(
            "Every panel was photographed bare after a solvent wipe. Say it with the percentage, never of "
            "all marks.",
        ),
    )


def _best_panel(report: Report) -> tuple[Statement, ...]:
    compared = [panel for panel in report.panels if panel.compared]
    changes = [panel.figure("density all").change_percent or 0.0 for panel in compared]
    if len(compared) < 2 or min(changes) >= 0:
        return ()
    best = compared[changes.index(min(changes))]
    return (
        Statement(
            words=f"Up to {percent(-min(changes))} fewer marks.",
            supported=False,
            why=(
                f"It picks the best panel ({best.name}). All measured panels or none: give the mean and the "
                "least improved panel.",
            ),
        ),
    )


def _pictures(report: Report) -> Statement:
    words = "The before and after pictures of this report."
    apart = [panel.name for panel in report.panels if not panel.compared]
    if apart or not report.panels:
        return Statement(
            words=words,
            supported=False,
            why=(f"Before and after cannot be held against each other on: {listed(apart) or 'any panel'}.",),
        )
    return Statement(
        words=words,
        supported=True,
        why=(
            "Same place, same lamp, one exposure and one tone curve for both, not retouched. Show the panel "
            "in the middle or all of them, with figure and conditions.",
            *_cares(report),
        ),
    )


def _typical(found: TypicalResult) -> Statement:
    words = "What customers can usually expect from us."
    if found.mean_percent is None or found.ci95_percent is None:
        return Statement(words=words, supported=False, why=(found.why_not,))
    spoken = (
        f"Over all {found.jobs} measured jobs visible marks were on average "
        f"{change_words(found.mean_percent)} (95 % interval {interval_words(found.ci95_percent)}), from "
        f"{change_words(found.least_percent)} to {change_words(found.most_percent)}."
    )
    if found.ci95_percent[1] >= 0:
        why = ("The interval over jobs does not exclude that nothing changed.",)
        return Statement(words=spoken, supported=False, why=why)
    return Statement(
        words=spoken,
        supported=True,
        why=(
            "Each job counts once, none that was measured is left out, and the least improved one is in it.",
        ),
    )


def _panel_words(panel: PanelSection) -> str:
    row = panel.figure("density all")
    return f"{row.change_text} (95 % interval {row.interval_text})" if row.interval_text else row.change_text


def _say_with_it(report: Report) -> tuple[str, ...]:
    """Conditions that a supported sentence has to carry."""
    compared = [panel for panel in report.panels if panel.compared]
    said = [f"Of this job only: {counted(report.tally.measured, 'panel')} of one car, chosen by the shop."]
    if len(compared) > 1:
        least = max(compared, key=lambda panel: panel.figure("density all").change_percent or 0.0)
        said.append(f"The least improved panel is {least.name}: {_panel_words(least)}.")
    if report.tally.not_comparable:
        names = listed([panel.name for panel in report.panels if not panel.compared])
        said.append(f"Not comparable and without a percentage: {names}.")
    said.append(
        "Visible marks, by length per area, under one inspection lamp; the same lamp before and after."
    )
    if any(panel.word != "removed" for panel in compared):
        said.append("Less visible, not removed: the paint was not shown bare after a solvent wipe.")
    elif compared:
        said.append("Photographed bare after a solvent wipe.")
    return (*said, *report.conditions)
