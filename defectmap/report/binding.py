"""Put the sections of a report together; what a job and a pair of files have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from defectmap import __version__
from defectmap.report.content import (
    AgreedEntry,
    DamageEntry,
    FilmEntry,
    LeftEntry,
    PanelSection,
    PhotographEntry,
    Report,
    StepEntry,
)
from defectmap.report.method import conditions, method
from defectmap.report.overall import headline, middle_panel, of_two_kinds, sample, summary, tally_of, together
from defectmap.report.strength_rows import mean_strength
from defectmap.words.writer import ENGLISH, Writer


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What stands above a report."""

    title: str
    made_on: str
    reference: str | None = None
    customer: str | None = None
    vehicle: str | None = None
    shop: str | None = None
    mark: bytes | None = None  # the shop's own picture


def assemble(
    heading: Heading,
    panels: Sequence[PanelSection],
    photographs: Sequence[PhotographEntry],
    *,
    steps: Sequence[StepEntry] = (),
    films: Sequence[FilmEntry] = (),
    film_assumptions: Sequence[str] = (),
    agreed: Sequence[AgreedEntry] = (),
    damage: Sequence[DamageEntry] = (),
    setup: str | None = None,
    writer: Writer = ENGLISH,
) -> Report:
    """Make the report of sections that are ready.

    Parameters
    ----------
    heading : Heading
        Title, day, vehicle, shop.
    panels : sequence of PanelSection
        Every measured panel.
    photographs : sequence of PhotographEntry
        Every photograph behind them.
    steps, films, film_assumptions, agreed, damage : sequences, optional
        From the job record, where there is one.
    setup : str, optional
        Name of the set-up whose repeatability was used.
    writer : Writer, optional
        Of the shop.
    """
    panels, shared = _shared_warnings(panels)
    tally = tally_of(panels)
    rows = together(panels, writer=writer)
    middle = middle_panel(panels)
    return Report(
        **asdict(heading),
        made_on_text=writer.day(heading.made_on),
        program=f"defectmap {__version__}",
        headline=headline(tally, writer=writer) if panels else writer.tell("Nothing has been measured yet."),
        summary=summary(panels, tally, rows, writer=writer),
        tally=tally,
        panels=tuple(panels),
        together=rows,
        sample=sample(panels, writer=writer),
        typical=middle.pairs[0] if middle else None,
        left=_left(panels, writer),
        steps=tuple(steps),
        films=tuple(films),
        film_assumptions=tuple(film_assumptions),
        conditions=(*conditions(photographs, setup=setup, writer=writer), *shared),
        method=method(films=any(panel.filmed for panel in panels), writer=writer),
        photographs=tuple(photographs),
        strength=() if of_two_kinds(panels) else mean_strength([p.strength for p in panels], writer=writer),
        agreed=tuple(agreed),
        damage=tuple(damage),
        style=writer.style,
    )


def _shared_warnings(panels: Sequence[PanelSection]) -> tuple[list[PanelSection], tuple[str, ...]]:
    """Warnings that hold for every panel are said once."""
    if len(panels) < 2:
        return list(panels), ()
    shared = [words for words in panels[0].warnings if all(words in panel.warnings for panel in panels[1:])]
    rest = [
        replace(panel, warnings=tuple(words for words in panel.warnings if words not in shared))
        for panel in panels
    ]
    return rest, tuple(shared)


def _left(panels: Sequence[PanelSection], writer: Writer) -> tuple[LeftEntry, ...]:
    """What is left, panels with one reason together."""
    grouped: dict[str, list[PanelSection]] = {}
    for panel in panels:
        grouped.setdefault(panel.why_left, []).append(panel)
    return tuple(
        LeftEntry(
            panels=writer.listed([panel.name for panel in same]),
            what="; ".join(f"{panel.name}: {panel.left}" for panel in same)
            if len(same) > 1
            else same[0].left,
            why=why,
        )
        for why, same in grouped.items()
    )
