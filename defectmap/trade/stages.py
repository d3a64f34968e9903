"""The usual order of the work, and what each stage needs first: gates that warn and never stop anyone.

Order and gates are common practice in the trade, no source: clean and decontaminate before inspecting, test
spot before the whole panel, wipe off oils before the photograph that proves, and no claim of removal once a
filler or a protection lies on the paint. The detailer may go on; the record then says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from defectmap.errors import JobError
from defectmap.trade.facts import PanelHistory, StepRecord
from defectmap.trade.tuning import READINGS_A_PLACE

NEVER_POLISHED = ("matt", "satin", "film", "wrap")
STEP_KINDS = ("wash", "decontaminate", "correct", "wipe", "fill", "protect")
BASELINE = "decontaminated"  # the first stage at which what shows is in the paint and not on it
PROOF = "wiped"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of the work."""

    name: str
    meaning: str


STAGES = (
    Stage(name="as received", meaning="before anything was done"),
    Stage(name="washed", meaning="loose dirt is off"),
    Stage(name="decontaminated", meaning="bonded dirt is off: the inspection that counts as before"),
    Stage(name="test spot", meaning="one spot corrected and wiped, to choose the step"),
    Stage(name="corrected", meaning="the panel is corrected, polishing oils still on it"),
    Stage(name="wiped", meaning="oils wiped off with solvent: the inspection that counts as after"),
    Stage(name="filled", meaning="a filler or glaze is on: marks are masked, not removed"),
    Stage(name="protected", meaning="wax, sealant or coating is on"),
    Stage(name="follow up", meaning="looked at again months later, washed and dry"),
)
STAGE_NAMES = tuple(stage.name for stage in STAGES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """Something that is usually done first and was not; `sentence` says what it costs to go on."""

    code: str
    sentence: str


def stage_named(words: str) -> str:
    """Name of the stage, however it was spelt.

    Raises
    ------
    JobError
        There is no such stage.

    Examples
    --------
    >>> stage_named("Test-Spot")
    'test spot'
    """
    name = " ".join(words.lower().replace("-", " ").replace("_", " ").split())
    if name not in STAGE_NAMES:
        raise JobError(f"{words!r} is not a valid stage; use one of: {', '.join(STAGE_NAMES)}.")
    return name


def gates_for_stage(history: PanelHistory, stage: str, *, spot: str | None = None) -> tuple[Gate, ...]:
    """What is usually done before a photograph of this stage, and was not.

    Parameters
    ----------
    history : PanelHistory
        What the record holds for the panel so far.
    stage : str
        One of `STAGE_NAMES`.
    spot : str, optional
        The spot photographed; a test spot is judged by what was done to that spot.
    """
    done = _kinds(history.steps)
    gates: list[Gate] = []
    if stage in ("washed", "decontaminated", "follow up") and "wash" not in done:
        gates.append(_gate("no wash", "No wash is recorded: dirt may be counted as marks."))
    if stage == BASELINE and "decontaminate" not in done:
        gates.append(
            _gate(
                "not decontaminated", "No decontamination is recorded: bonded dirt may be counted as marks."
            )
        )
    if stage in ("test spot", "corrected", "wiped"):
        gates += _before_correction(history)
        gates += _proof_gates(history, stage, spot)
    if stage == "filled":
        if "fill" not in done:
            gates.append(_gate("no filler", "No filler is recorded, yet the stage says filled."))
        gates += _no_proof_photograph(history)
        gates.append(
            _gate("filler hides", "A filler hides marks: this photograph supports no claim of removal.")
        )
    if stage == "protected":
        if "protect" not in done:
            gates.append(_gate("no protection", "No protection is recorded, yet the stage says protected."))
        gates += _no_proof_photograph(history)
        gates.append(
            _gate(
                "protection hides", "Protection can hide marks: this photograph supports no claim of removal."
            )
        )
    return tuple(gates)


def gates_for_step(
    history: PanelHistory,
    kind: str,
    *,
    spot: str | None = None,
    rung: str | None = None,
    ladder: tuple[str, ...] = (),
    paint: str = "",
) -> tuple[Gate, ...]:
    """What is usually done before this step, and was not.

    Parameters
    ----------
    kind : str
        One of `STEP_KINDS`.
    spot : str, optional
        Where the step is done on one spot only (a test spot).
    rung : str, optional
        Key of the correction step.
    ladder : tuple of str
        Keys of all correction steps, least aggressive first.
    paint : str, optional
        Of the vehicle; a panel's own comes first.
    """
    done = _kinds(history.steps)
    if kind == "decontaminate" and "wash" not in done:
        return (
            _gate(
                "no wash", "No wash is recorded: loose grit drags under clay and mitt and makes new marks."
            ),
        )
    if kind == "fill":
        return (
            _gate(
                "filler hides", "A filler hides marks: photographs from now on support no claim of removal."
            ),
        )
    if kind == "protect":
        return _no_proof_photograph(history)
    if kind != "correct":
        return ()
    gates = list(_before_correction(history))
    if (history.panel.paint or paint) in NEVER_POLISHED:
        gates.append(
            _gate("never polished", "Matt, satin, film and wrap are never polished: this cannot be undone.")
        )
    if "protect" in done:
        gates.append(
            _gate("over protection", "Protection is on the panel: correcting now takes it off again.")
        )
    if spot is None and not _test_spots(history):
        gates.append(
            _gate("no test spot", "No test spot is recorded on this panel: try the step on one spot first.")
        )
    gates += _gentler_untried(history, rung, ladder)
    return tuple(gates)


def _gate(code: str, sentence: str) -> Gate:
    return Gate(code=code, sentence=sentence)


def _kinds(steps: tuple[StepRecord, ...]) -> set[str]:
    return {step.kind for step in steps}


def last_step(steps: tuple[StepRecord, ...], kind: str, *, spot: str | None = None) -> StepRecord | None:
    """The latest step of a kind, on the whole panel or on one spot; None where there is none."""
    found = [s for s in steps if s.kind == kind and (spot is None or s.spot in (None, spot))]
    return found[-1] if found else None


def _test_spots(history: PanelHistory) -> tuple[StepRecord, ...]:
    return tuple(step for step in history.steps if step.kind == "correct" and step.spot is not None)


def _before_correction(history: PanelHistory) -> tuple[Gate, ...]:
    done = _kinds(history.steps)
    gates: list[Gate] = []
    if not {"wash", "decontaminate"} <= done:
        gates.append(
            _gate(
                "not clean",
                "Washing and decontaminating are not both recorded: grit under a pad makes marks.",
            )
        )
    if BASELINE not in history.photographed:
        gates.append(
            _gate(
                "no before",
                f"There is no photograph of the stage {BASELINE!r}: nothing to compare with later.",
            )
        )
    places = [reading.place for reading in history.readings]
    if not any(places.count(place) >= READINGS_A_PLACE for place in places):
        gates.append(
            _gate(
                "no thickness",
                f"No place on this panel has {READINGS_A_PLACE} film thickness readings: what the clear "
                "coat allows is not known.",
            )
        )
    return tuple(gates)


def _proof_gates(history: PanelHistory, stage: str, spot: str | None) -> tuple[Gate, ...]:
    gates: list[Gate] = []
    correct = last_step(history.steps, "correct", spot=spot)
    if correct is None:
        gates.append(_gate("no correction", f"No correction is recorded, yet the stage says {stage}."))
    elif stage != "test spot" and not _test_spots(history):
        gates.append(_gate("no test spot", "No test spot is recorded on this panel."))
    wipe = last_step(history.steps, "wipe", spot=spot)
    if stage in ("test spot", PROOF) and (wipe is None or (correct is not None and wipe.at < correct.at)):
        gates.append(
            _gate("no wipe", "No solvent wipe is recorded since the last correction: oils may hide marks.")
        )
    if stage == "corrected":
        gates.append(
            _gate("oils", "Polishing oils hide marks: only a photograph after the solvent wipe proves.")
        )
    if "fill" in _kinds(history.steps):
        gates.append(
            _gate("filler hides", "A filler is recorded: no claim of removal can rest on this photograph.")
        )
    return tuple(gates)


def _no_proof_photograph(history: PanelHistory) -> tuple[Gate, ...]:
    if PROOF in history.photographed:
        return ()
    return (
        _gate(
            "no proof",
            f"There is no photograph of the stage {PROOF!r}: once protection is on, removal can no "
            "longer be shown.",
        ),
    )


def _gentler_untried(history: PanelHistory, rung: str | None, ladder: tuple[str, ...]) -> tuple[Gate, ...]:
    if rung is None or rung not in ladder:
        return ()
    tried = {step.rung for step in history.steps if step.kind == "correct"}
    gentler = [key for key in ladder[: ladder.index(rung)] if key not in tried]
    if not gentler:
        return ()
    return (
        _gate(
            "gentler untried",
            f"Gentler steps are untried on this panel ({', '.join(gentler)}): start with those.",
        ),
    )
