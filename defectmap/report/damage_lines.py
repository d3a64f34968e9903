"""The damage of a car on its papers: numbered as on the plan, with why it stays."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from defectmap.errors import PhotoError
from defectmap.record.damages import damage_photograph, damages_of
from defectmap.report.paper_content import DamageLine
from defectmap.trade.damage import stays_because
from defectmap.trade.facts import DamageRecord
from defectmap.words.trade_words import told
from defectmap.words.writer import ENGLISH, Writer

if TYPE_CHECKING:
    from defectmap.record.store import Store

LONGEST_SIDE_PX = 800  # on a paper


def damage_lines(store: Store, reference: str, *, writer: Writer = ENGLISH) -> tuple[DamageLine, ...]:
    """Damage of a job as a paper lists it, numbered, each with its photograph where there is one."""
    lines = []
    for number, one in enumerate(damages_of(store, reference), start=1):
        why, kind = stays_because(one), writer.term(one.kind)
        lines.append(
            DamageLine(
                number=number,
                panel=one.panel,
                what=f"{kind}, {one.words}" if one.words else kind,
                stays="" if why is None else told(why, audience="customer", writer=writer),
                at=None if one.x is None or one.y is None else (one.x, one.y),
                jpeg=_small(store, one),
            )
        )
    return tuple(lines)


def _small(store: Store, damage: DamageRecord) -> bytes | None:
    """The photograph of damage, small enough for a paper, without what the camera wrote into it."""
    from PIL import Image

    from defectmap.panel.photo.photograph import small_copy

    path = damage_photograph(store, damage)
    if path is None:
        return None
    try:
        small = small_copy(path, longest_side_px=LONGEST_SIDE_PX)
    except PhotoError:
        return None  # a picture that cannot be shown is still in the record
    out = io.BytesIO()
    Image.fromarray(small).save(out, "JPEG", quality=85)
    return out.getvalue()
