"""Damage that a car comes with: on its plan, with a photograph, and why it stays where it does."""

from __future__ import annotations

from pathlib import Path

from defectmap.errors import JobError
from defectmap.record import logbook, model
from defectmap.record.intake import original_row
from defectmap.record.rows import copied, find_job, find_panel, new_id, of_panels
from defectmap.record.store import Store
from defectmap.trade.damage import DAMAGE_KINDS, NOT_BY_POLISHING
from defectmap.trade.facts import DamageRecord


def add_damage(
    store: Store,
    reference: str,
    panel: str,
    kind: str,
    *,
    words: str = "",
    at_plan: tuple[float, float] | None = None,
    photograph: Path | None = None,
    stays: str | None = None,
) -> DamageRecord:
    """Mark damage that is there already; the rules of advice hear of what it says about the panel.

    Parameters
    ----------
    at_plan : tuple of float, optional
        Where on the car's plan: shares of its width and height, 0 to 1.
    photograph : Path, optional
        A picture of it; kept like every original, and measured by nobody.
    stays : str, optional
        Why it is not corrected; what polishing cannot mend stays whether or not it is given.

    Raises
    ------
    JobError
        The kind is not known, or the place is not on the plan.
    """
    if kind not in DAMAGE_KINDS:
        raise JobError(f"{kind!r} is not a kind of damage; use one of: {', '.join(DAMAGE_KINDS)}.")
    if at_plan is not None and not all(0 <= share <= 1 for share in at_plan):
        raise JobError("The place on the plan is two shares from 0 to 1, across and down.")
    why = stays or ("" if kind in NOT_BY_POLISHING else None)
    sha256 = None if photograph is None else _kept(store, photograph)
    with store.writing() as session:
        on = find_panel(session, find_job(session, reference, lock=True), panel)
        _known_of(on, kind)
        row = logbook.Damage(
            id=new_id(),
            panel_id=on.id,
            kind=kind,
            x=None if at_plan is None else float(at_plan[0]),
            y=None if at_plan is None else float(at_plan[1]),
            words=words.strip(),
            stays=why,
            sha256=sha256,
            at=store.clock(),
            set_aside=None,
        )
        session.add(row)
    return copied(DamageRecord, row, panel=panel)


def _known_of(panel: model.Panel, kind: str) -> None:
    """What damage says about its panel: a scratch to the nail is not chased, a repaint gets gentler steps."""
    if kind == "deep scratch" and not panel.catches_nail:
        panel.catches_nail, panel.version = True, panel.version + 1
    if kind == "repaint" and panel.repainted != "yes":
        panel.repainted, panel.version = "yes", panel.version + 1


def damages_of(store: Store, reference: str) -> tuple[DamageRecord, ...]:
    """The damage of a job that was not set aside, in the order of its panels."""
    with store.reading() as session:
        job = find_job(session, reference)
        query = (
            of_panels(logbook.Damage, job)
            .where(logbook.Damage.set_aside.is_(None))
            .order_by(model.Panel.position, logbook.Damage.at)
        )
        return tuple(copied(DamageRecord, row, panel=panel) for row, panel in session.execute(query))


def damage_photograph(store: Store, damage: DamageRecord) -> Path | None:
    """The kept picture of it, if there is one."""
    return None if damage.sha256 is None else store.originals.local(damage.sha256)


def _kept(store: Store, photograph: Path) -> str:
    kept = store.originals.keep(photograph)
    with store.writing() as session:
        original_row(session, kept, store.clock())
    return kept.sha256
