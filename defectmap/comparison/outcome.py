"""What a comparison says: verdict with reasons, changes with intervals, and the words that may be used.

Nothing here is a sentence: what is to be said is a code with values, and the sentence for each is in
`defectmap.words.comparison_words`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from defectmap.comparison.align import Alignment
from defectmap.comparison.interval import Method
from defectmap.comparison.limit import Limit, Verdict
from defectmap.panel.measurement import PanelMeasurement
from defectmap.words.remark import Remark

Topic = Literal[
    "same picture",
    "kind of picture",
    "place",
    "lamp",
    "exposure",
    "focus",
    "scale",
    "paint",
    "detection limit",
    "order",
    "processing",
    "stage",
]
Figure = Literal[
    "density all", "density swirl", "density scratch", "density trail", "longest scratch", "haze", "score"
]
Scope = Literal["this spot", "these spots", "the panel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason(Remark):
    """One thing that was checked and found at or beyond a limit (or, for "yes", worth knowing)."""

    topic: Topic
    verdict: Verdict
    value: float | None = None  # what was found, on the scale of `limit`
    limit: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparability:
    """May the two be compared, and why not."""

    reasons: tuple[Reason, ...] = ()

    @property
    def verdict(self) -> Verdict:
        """The worst of all reasons; "yes" where there are none."""
        said = {reason.verdict for reason in self.reasons}
        return "no" if "no" in said else "with care" if "with care" in said else "yes"


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One figure before and after."""

    figure: Figure
    before: float
    after: float
    change_percent: float | None = None  # None: no percentage can be given, `remark` says why
    ci95_percent: tuple[float, float] | None = None
    distinguishable: bool | None = None  # None where there is no interval
    at_least_percent: float | None = None  # reduction that a clean after photograph proves
    method: Method | None = None  # what the interval rests on
    remark: Remark | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FainterChange:
    """The density of all marks that both photographs show, fainter than the standard: more marks, tighter."""

    limit_um: float  # the same equivalent width on both sides
    change: Change


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """Which word may be used for what shows less, and why."""

    word: Literal["removed", "less visible"]
    reasons: tuple[Remark, ...]
    notes: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebound:
    """What came back with the solvent wipe: marks that oils or fillers had only hidden."""

    unwiped_change_percent: float  # before to after, photographed before the wipe
    wiped_change_percent: float  # before to after, photographed after the wipe
    points: float  # percentage points that came back
    ci95_points: tuple[float, float]
    remark: Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotComparison:
    """One spot before and after."""

    before: PanelMeasurement
    after: PanelMeasurement
    alignment: Alignment
    comparable: Comparability
    common_area_cm2: float
    changes: tuple[Change, ...]  # empty where the verdict is "no"
    fainter: FainterChange | None = None  # where both photographs show marks fainter than the standard


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Everything a comparison of one or several spots says."""

    spots: tuple[SpotComparison, ...]
    comparable: Comparability
    changes: tuple[Change, ...]  # empty where the verdict is "no"
    scope: Scope
    claim: Claim
    rebound: Rebound | None = None
    setup: str | None = None  # name of the repeatability profile; None: an assumed one
    warnings: tuple[Remark, ...] = field(default=())

    def change(self, figure: Figure) -> Change:
        """The change of one figure.

        Raises
        ------
        KeyError
            The two may not be compared, so there is none.
        """
        for change in self.changes:
            if change.figure == figure:
                return change
        raise KeyError(figure)


def beyond(topic: Topic, value: float, limit: Limit, *, code: str, **values: str | float) -> Iterator[Reason]:
    """One reason where `value` meets a limit, none where it does not.

    Parameters
    ----------
    topic : Topic
        What was checked.
    value : float
        Grows with the difference; NaN where it is not known.
    limit : Limit
        With care, and no.
    code : str
        Of the reason.
    **values : str or float
        What its sentence needs besides `limit`, which is the one that was met.

    Yields
    ------
    Reason
    """
    verdict = limit.verdict(value)
    if verdict != "yes":
        met = limit.met(value)
        yield Reason(
            code=code, values={"limit": met, **values}, topic=topic, verdict=verdict, value=value, limit=met
        )
