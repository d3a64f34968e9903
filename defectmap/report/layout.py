"""What the page and the PDF share: signs, the length of bars, which pictures come where."""

from __future__ import annotations

from defectmap.report.content import Audience, PanelSection, PicturePair, Report, StepEntry
from defectmap.words.changes import Outcome
from defectmap.words.writer import Writer

# A sign beside the words and the colour, so that none of the three is needed alone.
SIGNS: dict[Outcome, str] = {
    "less": "▼",
    "nothing left": "▼",
    "more": "▲",
    "no provable change": "=",
    "no interval": "?",
    "nothing before": "–",
    "not given": "–",
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


def widest_strength(report: Report) -> float:
    """The largest density by strength of all panels, before or after."""
    rows = [row for panel in report.panels for row in panel.strength]
    return max((max(row.before, row.after) for row in rows), default=0.0)


def widest_bar(report: Report) -> float:
    """The largest density of all panels, before or after."""
    rows = [panel.figure("density all") for panel in report.panels]
    return max((value for row in rows for value in (row.before, row.after) if value is not None), default=0.0)


def facts_of(report: Report) -> tuple[str, ...]:
    """The line under the title."""
    writer = Writer(report.style)
    said = (
        report.vehicle,
        writer.tell("for {customer}", customer=report.customer) if report.customer else None,
        writer.tell("job {reference}", reference=report.reference) if report.reference else None,
        report.made_on_text,
    )
    return tuple(fact for fact in said if fact)


def left_heading(report: Report) -> str:
    """Heading of what is left; it promises a reason only where one is on record."""
    writer = Writer(report.style)
    if any(entry.why for entry in report.left):
        return writer.tell("What is left, and why")
    return writer.tell("What is left")


def bars_heading(report: Report) -> str:
    """What the bars are of, with the unit in words where the photographs have one."""
    writer = Writer(report.style)
    what = writer.tell("Visible marks over the common area of both photographs")
    if report.filmed:
        what = writer.tell(
            "Visible marks over the common area; of films, each direction where both could show it"
        )
    if not report.calibrated:
        return what
    inches = writer.tell("inches of line on each square inch")
    millimetres = writer.tell("mm of line on each cm² (about a fingernail)")
    return writer.tell(
        "{what}: {unit}", what=what, unit=inches if report.style.length == "inch" else millimetres
    )


def strength_note(report: Report) -> str:
    """What stands above the bars of density by strength."""
    writer = Writer(report.style)
    what = writer.tell("each photograph over its own zone")
    if report.filmed:
        what = writer.tell(
            "each photograph or film over its own zone (a film usually reads less there than in the "
            "comparison, which counts each direction only where both films could show it)"
        )
    unit = writer.tell("in mm of line for each cm²")
    if report.style.length == "inch":
        unit = writer.tell("in inches of line for each square inch")
    return writer.tell(
        "Marks by their strength, {unit}, {what}. Polishing takes the fine ones first; what is left on the "
        "right are the strong ones.",
        unit=unit,
        what=what,
    )


def step_line(step: StepEntry, *, writer: Writer) -> str:
    """Where and when a step was done, and what it may have taken."""
    values = {"panels": step.panels, "when": step.when, "takes": step.takes}
    if step.takes:
        return writer.tell("{panels}, {when}; may have taken {takes} of clear coat a panel", **values)
    return writer.tell("{panels}, {when}", **values)


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


def panel_facts(panel: PanelSection, *, writer: Writer) -> tuple[str, ...]:
    """Verdict, places and the word that the record supports, for the full version."""
    verdict = {
        "yes": writer.tell("Comparable: yes."),
        "with care": writer.tell("Comparable: with care."),
        "no": writer.tell("Comparable: no."),
    }[panel.verdict]
    scope = {
        "this spot": writer.tell("the ranges speak of this spot"),
        "these spots": writer.tell("the ranges speak of these spots"),
        "the panel": writer.tell("the ranges speak of the panel"),
    }[panel.scope]
    places = writer.tell(
        "{places} photographed; {scope}.",
        places=writer.tell_many("{number} place", "{number} places", panel.spots),
        scope=scope,
    )
    word = {"removed": writer.tell("removed"), "less visible": writer.tell("less visible"), "": ""}[
        panel.supported_word
    ]
    if not word:
        return verdict, places
    return (
        verdict,
        places,
        writer.tell("The word that the record supports: {word}.", word=word),
        panel.word_reason,
    )
