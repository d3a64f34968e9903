"""What a report says, as frozen data: page, PDF, table, picture and claims are drawn from this alone.

Texts are final: a renderer lays them out, escapes them, and computes nothing. Percentages are changes: below
0 is less than before. Where two photographs may not be compared there is no percentage anywhere, and
`reasons` say why.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from defectmap.comparison.limit import Verdict
from defectmap.comparison.outcome import Scope
from defectmap.words.changes import Outcome
from defectmap.words.report_words import ReportFigure
from defectmap.words.style import Style

Audience = Literal["customer", "full"]
Tone = Literal["better", "worse", "open"]
Met = Literal["met", "not met", "cannot be said"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureRow:
    """One figure before and after."""

    figure: ReportFigure
    name: str
    unit: str
    before: float | None
    after: float | None
    change_percent: float | None  # None: `outcome` and `note` say why
    ci95_percent: tuple[float, float] | None
    at_least_percent: float | None  # reduction that a clean after photograph proves
    outcome: Outcome
    before_text: str
    after_text: str
    change_text: str
    interval_text: str
    note: str

    @property
    def tone(self) -> Tone:
        """Whether what was found is for the better; a score is the one figure that should rise."""
        if self.outcome == "nothing left":
            return "better"
        if self.outcome not in ("less", "more"):
            return "open"
        return "better" if (self.outcome == "more") == (self.figure == "score") else "worse"


@dataclass(frozen=True, slots=True, kw_only=True)
class StrengthRow:
    """Density of marks at or above one strength (equivalent width), before and after."""

    at_least: str
    before: float
    after: float
    before_text: str
    after_text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedPicture:
    """A JPEG without any metadata, and its words for those who do not see it."""

    jpeg: bytes
    width_px: int
    height_px: int
    alt: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PicturePair:
    """The same millimetres before and after, scale bar drawn in."""

    panel: str
    before: PrintedPicture
    after: PrintedPicture
    caption: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSection:
    """One panel (or the one place that was compared)."""

    name: str
    spots: int
    scope: Scope
    verdict: Verdict
    reasons: tuple[str, ...]
    headline: str
    figures: tuple[FigureRow, ...]
    calibrated: bool
    word: Literal["removed", "less visible"]
    word_reason: str
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    rebound: str | None
    left: str
    why_left: str
    pairs: tuple[PicturePair, ...] = ()
    strength: tuple[StrengthRow, ...] = ()
    areas_cm2: tuple[float, ...] = ()  # common area of each place
    same_lamp: bool = False  # every check of the lamp passed
    by_hand: str = ""  # marks that were corrected by hand; empty where none were
    filmed: str = ""  # that its figures are of films, and of which directions; empty where of photographs

    def figure(self, figure: ReportFigure) -> FigureRow:
        """The row of one figure.

        Raises
        ------
        KeyError
            The section has no such row.
        """
        for row in self.figures:
            if row.figure == figure:
                return row
        raise KeyError(figure)

    @property
    def supported_word(self) -> str:
        """The word for what was done to the marks; none where no reduction is proven."""
        return self.word if self.figure("density all").tone == "better" else ""

    @property
    def compared(self) -> bool:
        """Whether its photographs may be compared."""
        return self.verdict != "no"

    @property
    def found(self) -> str:
        """What the customer is told of it first: the change, or why there is none."""
        return self.headline if self.compared or not self.reasons else " ".join(self.reasons)

    @property
    def handed(self) -> tuple[PicturePair, ...]:
        """Pictures that the customer is handed: one, and all of a film."""
        return self.pairs if self.filmed else self.pairs[:1]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotographEntry:
    """One photograph that the figures rest on."""

    panel: str
    spot: str
    stage: str
    name: str | None  # of the file; None unless it was asked for
    sha256: str
    taken: str
    size: str
    exposure: str
    scale: str
    area: str
    limit: str
    taken_day: str = ""  # ISO 8601, by the camera's clock
    limit_length: str = ""  # with its unit
    limit_contrast: float | None = None  # what a mark must give more than its surround, as a share of it
    warnings: tuple[str, ...] = ()
    refused: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StepEntry:
    """Something that was done, and the panels that it was done to at that day."""

    what: str
    panels: str
    when: str
    takes: str  # clear coat that it may have taken


@dataclass(frozen=True, slots=True, kw_only=True)
class FilmEntry:
    """Film thickness of one panel and what that allows."""

    panel: str
    thinnest: str
    mean: str
    readings: str
    spent: str
    allowed: str
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftEntry:
    """Panels on which the same reason holds for what is left."""

    panels: str
    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AgreedEntry:
    """What was agreed for a panel beside what came out, in the same unit."""

    panel: str
    what: str
    agreed: str
    result: str
    met: Met
    met_text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageEntry:
    """Damage that stays, and why."""

    panel: str
    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A heading and its sentences."""

    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many panels there are of each kind; the kinds below `measured` add up to it."""

    measured: int
    less: int
    more: int
    undecided: int
    not_comparable: int

    @property
    def compared(self) -> int:
        """Panels whose photographs may be compared."""
        return self.measured - self.not_comparable


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """All that a report says."""

    title: str
    made_on: str  # ISO 8601 day
    made_on_text: str
    program: str
    reference: str | None
    customer: str | None  # None unless it was asked for
    vehicle: str | None
    shop: str | None
    headline: str
    summary: tuple[str, ...]
    tally: Tally
    panels: tuple[PanelSection, ...]
    together: tuple[FigureRow, ...]  # change of the panels' mean density; empty where panels went apart
    sample: FigureRow | None  # all marks, the panels taken as a sample of such panels; None below three
    typical: PicturePair | None  # of the panel in the middle by its change, so that nobody picks
    left: tuple[LeftEntry, ...]
    steps: tuple[StepEntry, ...]
    films: tuple[FilmEntry, ...]
    film_assumptions: tuple[str, ...]
    conditions: tuple[str, ...]
    method: tuple[Passage, ...]
    photographs: tuple[PhotographEntry, ...]
    strength: tuple[StrengthRow, ...] = ()  # mean over the panels
    agreed: tuple[AgreedEntry, ...] = ()
    damage: tuple[DamageEntry, ...] = ()
    style: Style = field(
        default_factory=Style
    )  # language, units, dates and paper that its texts are written in
    mark: bytes | None = None  # the shop's own picture (PNG or JPEG), for the head of the papers

    @property
    def compared(self) -> tuple[PanelSection, ...]:
        """Panels whose photographs may be compared."""
        return tuple(panel for panel in self.panels if panel.compared)

    @property
    def filmed(self) -> bool:
        """Whether a panel was filmed."""
        return any(panel.filmed for panel in self.panels)

    @property
    def calibrated(self) -> bool:
        """Whether a panel has a scale."""
        return any(panel.calibrated for panel in self.panels)

    @property
    def beside_panels(self) -> tuple[str, ...]:
        """The summary where each panel stands with its headline: of one panel the first sentence is that."""
        return self.summary if len(self.panels) > 1 else self.summary[1:]

    @property
    def apart(self) -> tuple[str, ...]:
        """Names of the panels whose photographs may not be compared."""
        return tuple(panel.name for panel in self.panels if not panel.compared)
