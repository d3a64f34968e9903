"""Sentences of advertising one by one: whether the record supports them and why, and the rules that hold."""

from __future__ import annotations

from dataclasses import dataclass

from defectmap.report.content import Report
from defectmap.report.typical import TypicalResult, typical_words
from defectmap.words.changes import interval_words, percent, percent_words
from defectmap.words.report_words import ADVERTISING, NEVER, NEVER_WHY
from defectmap.words.writer import Writer

FALLEN = ("less", "nothing left")  # outcomes of a panel whose marks provably went down


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One sentence, whether it is supported, and why."""

    words: str
    supported: bool
    why: tuple[str, ...]


def unsupported(words: str, *why: str) -> Statement:
    """A sentence that must not be used, and why."""
    return Statement(words=words, supported=False, why=why)


def removed(report: Report, writer: Writer) -> Statement:
    """Whether it may be said that marks are gone."""
    words = writer.tell("Marks were removed (and not only hidden).")
    compared = report.compared
    hidden = [panel for panel in compared if panel.word != "removed"]
    proven = [panel for panel in compared if panel.figure("density all").outcome in FALLEN]
    if not compared or report.apart:
        why = (
            writer.tell("Not comparable: {panels}.", panels=writer.listed(report.apart))
            if report.apart
            else writer.tell("No panel was measured.")
        )
        return unsupported(words, why)
    if hidden:
        reasons = tuple(dict.fromkeys(f"{panel.name}: {panel.word_reason}" for panel in hidden))
        return unsupported(words, *reasons)
    if len(proven) < len(compared):
        without = writer.listed([panel.name for panel in compared if panel not in proven])
        why = writer.tell("No reduction is proven on: {panels}.", panels=without)
        return unsupported(words, why)
    return Statement(
        words=words,
        supported=True,
        why=(
            writer.tell(
                "By the shop's own entry every panel was wiped with solvent before it was photographed. Say "
                "it with the percentage, never of all marks."
            ),
            *(panel.rebound for panel in compared if panel.rebound),
        ),
    )


def best_panel(report: Report, writer: Writer) -> tuple[Statement, ...]:
    """The sentence that picks the best panel, which is never supported."""
    compared = report.compared
    changes = [panel.figure("density all").change_percent or 0.0 for panel in compared]
    if len(compared) < 2 or min(changes) >= 0:
        return ()
    best = compared[changes.index(min(changes))]
    return (
        unsupported(
            writer.tell("Up to {percent} fewer marks.", percent=percent(-min(changes), writer=writer)),
            writer.tell(
                "It picks the best panel ({panel}). All measured panels or none: give the mean and the "
                "least improved panel.",
                panel=best.name,
            ),
        ),
    )


def pictures(report: Report, writer: Writer) -> Statement:
    """Whether the pictures may be shown."""
    words = writer.tell("The before and after pictures of this report.")
    if report.apart or not report.panels:
        why = (
            writer.tell(
                "Before and after cannot be held against each other on: {panels}.",
                panels=writer.listed(report.apart),
            )
            if report.apart
            else writer.tell("No panel was measured.")
        )
        return unsupported(words, why)
    same = (
        writer.tell(
            "Same place, same lamp by every check, one exposure and one tone curve for both, not retouched. "
            "Show the panel in the middle or all of them, with figure and conditions."
        )
        if same_lamp(report)
        else writer.tell(
            "Same place, one exposure and one tone curve for both, not retouched; the checks do not confirm "
            "that it was the same lamp. Show the panel in the middle or all of them, with figure and "
            "conditions."
        )
    )
    return Statement(words=words, supported=True, why=(same, *cares(report, writer)))


def same_lamp(report: Report) -> bool:
    """Whether every check of the compared panels passed: only then may it be called the same lamp."""
    compared = report.compared
    return bool(compared) and all(panel.same_lamp for panel in compared)


def typical(found: TypicalResult, writer: Writer) -> Statement:
    """What is usual over all jobs."""
    words = writer.tell("What customers can usually expect from us.")
    if found.mean_percent is None or found.ci95_percent is None:
        return unsupported(words, typical_words(found, writer=writer))
    spoken = writer.tell(
        "Over all {jobs} measured jobs visible marks were on average {change} (95 % interval {interval}), "
        "from {least} to {most}.",
        jobs=found.jobs,
        change=percent_words(found.mean_percent, writer=writer),
        interval=interval_words(found.ci95_percent, writer=writer),
        least=percent_words(found.least_percent, writer=writer),
        most=percent_words(found.most_percent, writer=writer),
    )
    if found.ci95_percent[1] >= 0:
        why = writer.tell("The interval over jobs does not exclude that nothing changed.")
        return unsupported(spoken, why)
    why = writer.tell(
        "Each job counts once, none that was measured is left out, and the least improved one is in it."
    )
    return Statement(words=spoken, supported=True, why=(why,))


def cares(report: Report, writer: Writer) -> tuple[str, ...]:
    """Reasons to take care, panel by panel."""
    careful = [panel for panel in report.panels if panel.verdict == "with care"]
    return tuple(
        writer.tell("With care, {panel}: {reason}", panel=panel.name, reason=reason)
        for panel in careful
        for reason in panel.reasons
    )


def never(writer: Writer) -> tuple[Statement, ...]:
    """Sentences that are never supported, each with the reason."""
    return tuple(
        unsupported(writer.tell(words), writer.tell(NEVER_WHY[code])) for code, words in NEVER.items()
    )


def rules(writer: Writer) -> tuple[str, ...]:
    """Rules of advertising, with a source each."""
    return tuple(writer.tell(words) for words in ADVERTISING.values())
