"""A report of files that were just compared, without a job record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from defectmap.comparison.compare import Shot
from defectmap.comparison.contract import comparison_record, side_records
from defectmap.comparison.outcome import Comparison
from defectmap.pictures.crops import Centre, worst_mark
from defectmap.report.binding import Heading, assemble
from defectmap.report.content import PanelSection, PhotographEntry, PicturePair, Report
from defectmap.report.picture_pairs import picture_pair
from defectmap.report.privacy import Aliases, PrivacyChoice
from defectmap.report.sections import panel_section
from defectmap.report.sources import photograph_entry

TITLE = "Paint before and after"
CHOICE = PrivacyChoice()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ComparedPanel:
    """One panel's comparison with the photographs that it was made from."""

    name: str
    found: Comparison
    before: Sequence[Shot]
    after: Sequence[Shot]
    before_stage: str = "before"
    after_stage: str = "after"


def report_from_comparisons(panels: Sequence[ComparedPanel], *, made_on: str) -> Report:
    """Make the report of one or several comparisons, with nothing shown beyond the figures.

    Parameters
    ----------
    panels : sequence of ComparedPanel
        Every panel that was measured: all or none, whatever came out.
    made_on : str
        Day, ISO 8601.
    """
    sections: list[PanelSection] = []
    photographs: list[PhotographEntry] = []
    for panel in panels:
        section, entries = compared_section(panel)
        sections.append(section)
        photographs += entries
    setups = {panel.found.setup for panel in panels}
    return assemble(
        Heading(title=TITLE, made_on=made_on),
        sections,
        photographs,
        setup=setups.pop() if len(setups) == 1 else None,
    )


def compared_section(panel: ComparedPanel) -> tuple[PanelSection, list[PhotographEntry]]:
    """Section and photographs of one panel; the photographs themselves can then be let go."""
    record = comparison_record(panel.found)
    aliases = Aliases(CHOICE)
    entries = []
    for stage, shots, side in (
        (panel.before_stage, panel.before, "before"),
        (panel.after_stage, panel.after, "after"),
    ):
        for number, (shot, one) in enumerate(zip(shots, side_records(record, side), strict=True), start=1):
            where = f"{panel.name}, spot {number}" if len(shots) > 1 else panel.name
            aliases.add(shot.photo.facts.name, f"the {side} photograph of {where}")
            entries.append(
                photograph_entry(one, panel=panel.name, spot=str(number), stage=stage, aliases=aliases)
            )
    pairs = _pairs(panel)
    return panel_section(panel.name, record, aliases=aliases, pairs=pairs), entries


def _pairs(panel: ComparedPanel) -> list[PicturePair]:
    """Pictures of every spot; none where before and after may not be held against each other."""
    if panel.found.comparable.verdict == "no":
        return []
    pairs = []
    for number, (one, other, spot) in enumerate(
        zip(panel.before, panel.after, panel.found.spots, strict=True), start=1
    ):
        name = f"{panel.name}, spot {number}" if len(panel.before) > 1 else panel.name
        centres: tuple[Centre, ...] = (
            ("hotspot", "worst scratch") if worst_mark(spot.before.marks) else ("hotspot",)
        )
        pairs += [
            picture_pair(name, one.photo, other.photo, spot, choice=CHOICE, centre=centre)
            for centre in centres
        ]
    return pairs
