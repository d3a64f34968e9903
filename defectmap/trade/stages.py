"""The usual order of the work, and what each stage needs first: gates that warn and never stop anyone.

Order and gates are common practice in the trade, no source: clean and decontaminate before inspecting, test
spot before the whole panel, wipe off oils before the photograph that proves, and no claim of removal once a
filler or a protection lies on the paint. The detailer may go on; the record then says so.
"""

from __future__ import annotations

from defectmap.comparison.masking import STAGES, Stage
from defectmap.errors import JobError
from defectmap.trade.facts import PanelHistory, StepRecord
from defectmap.trade.tuning import READINGS_A_PLACE
from defectmap.words.remark import Remark

NEVER_POLISHED = ("matt", "satin", "film", "wrap")
STEP_KINDS = ("wash", "decontaminate", "correct", "wipe", "fill", "protect")
BASELINE = "decontaminated"  # the first stage at which what shows is in the paint and not on it
PROOF = "wiped"


STAGE_NAMES = STAGES  # in the order of the work


def stage_named(words: str) -> Stage:
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
    for stage in STAGE_NAMES:
        if stage == name:
            return stage
    raise JobError(f"{words!r} is not a valid stage; use one of: {', '.join(STAGE_NAMES)}.")


def gates_for_stage(history: PanelHistory, stage: str, *, spot: str | None = None) -> tuple[Remark, ...]:
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
    gates: list[Remark] = []
    if stage in ("washed", "decontaminated", "follow up") and "wash" not in done:
        gates.append(Remark(code="no wash"))
    if stage == BASELINE and "decontaminate" not in done:
        gates.append(Remark(code="not decontaminated"))
    if stage in ("test spot", "corrected", "wiped"):
        gates += _before_correction(history)
        gates += _proof_gates(history, stage, spot)
    if stage == "filled":
        if "fill" not in done:
            gates.append(Remark(code="no filler"))
        gates += _no_proof_photograph(history)
        gates.append(Remark(code="filler hides"))
    if stage == "protected":
        if "protect" not in done:
            gates.append(Remark(code="no protection"))
        gates += _no_proof_photograph(history)
        gates.append(Remark(code="protection hides"))
    return tuple(gates)


def gates_for_step(
    history: PanelHistory,
    kind: str,
    *,
    spot: str | None = None,
    rung: str | None = None,
    ladder: tuple[str, ...] = (),
    paint: str = "",
) -> tuple[Remark, ...]:
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
        return (Remark(code="no wash before clay"),)
    if kind == "fill":
        return (Remark(code="filler will hide"),)
    if kind == "protect":
        return _no_proof_photograph(history)
    if kind != "correct":
        return ()
    gates = list(_before_correction(history))
    if (history.panel.paint or paint) in NEVER_POLISHED:
        gates.append(Remark(code="never polished"))
    if "protect" in done:
        gates.append(Remark(code="over protection"))
    if spot is None and not _test_spots(history):
        gates.append(Remark(code="no test spot yet"))
    gates += _gentler_untried(history, rung, ladder)
    return tuple(gates)


def _kinds(steps: tuple[StepRecord, ...]) -> set[str]:
    return {step.kind for step in steps}


def last_step(steps: tuple[StepRecord, ...], kind: str, *, spot: str | None = None) -> StepRecord | None:
    """The latest step of a kind, on the whole panel or on one spot; None where there is none."""
    found = [s for s in steps if s.kind == kind and (spot is None or s.spot in (None, spot))]
    return found[-1] if found else None


def _test_spots(history: PanelHistory) -> tuple[StepRecord, ...]:
    return tuple(step for step in history.steps if step.kind == "correct" and step.spot is not None)


def _before_correction(history: PanelHistory) -> tuple[Remark, ...]:
    done = _kinds(history.steps)
    gates: list[Remark] = []
    if not {"wash", "decontaminate"} <= done:
        gates.append(Remark(code="not clean"))
    if BASELINE not in history.photographed:
        gates.append(Remark(code="no before", values={"stage": BASELINE}))
    places = [reading.place for reading in history.readings]
    if not any(places.count(place) >= READINGS_A_PLACE for place in places):
        gates.append(Remark(code="no thickness", values={"readings": READINGS_A_PLACE}))
    return tuple(gates)


def _proof_gates(history: PanelHistory, stage: str, spot: str | None) -> tuple[Remark, ...]:
    gates: list[Remark] = []
    correct = last_step(history.steps, "correct", spot=spot)
    if correct is None:
        gates.append(Remark(code="no correction", values={"stage": stage}))
    elif stage != "test spot" and not _test_spots(history):
        gates.append(Remark(code="no test spot"))
    wipe = last_step(history.steps, "wipe", spot=spot)
    if stage in ("test spot", PROOF) and (wipe is None or (correct is not None and wipe.at < correct.at)):
        gates.append(Remark(code="no wipe"))
    if stage == "corrected":
        gates.append(Remark(code="oils"))
    if "fill" in _kinds(history.steps):
        gates.append(Remark(code="filler recorded"))
    return tuple(gates)


def _no_proof_photograph(history: PanelHistory) -> tuple[Remark, ...]:
    if PROOF in history.photographed:
        return ()
    return (Remark(code="no proof", values={"stage": PROOF}),)


def _gentler_untried(history: PanelHistory, rung: str | None, ladder: tuple[str, ...]) -> tuple[Remark, ...]:
    if rung is None or rung not in ladder:
        return ()
    tried = {step.rung for step in history.steps if step.kind == "correct"}
    gentler = [key for key in ladder[: ladder.index(rung)] if key not in tried]
    if not gentler:
        return ()
    return (Remark(code="gentler untried", values={"rungs": ", ".join(gentler)}),)
