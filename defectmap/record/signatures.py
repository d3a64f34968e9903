"""What a customer signed: intake, hand-over, and whether pictures may be used. Personal data, kept apart."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session, undefer

from defectmap.errors import JobError
from defectmap.record import logbook
from defectmap.record.drawings import small_drawing
from defectmap.record.rows import copied, find_job, new_id
from defectmap.record.store import Store
from defectmap.trade.facts import SignatureRecord

SIGNED = ("intake", "pictures", "hand-over")
PNG = b"\x89PNG\r\n\x1a\n"
MAX_PICTURE_BYTES = 2_000_000
SIGNATURE_PX = 1600  # longer side as it is kept


def sign(
    store: Store,
    reference: str,
    what: str,
    *,
    words: str,
    signed_by: str,
    given: bool = True,
    picture: bytes | None = None,
) -> SignatureRecord:
    """Keep a signature, drawn on the phone or given on paper; the newest of a kind counts.

    Parameters
    ----------
    what : str
        One of `SIGNED`.
    words : str
        What was signed, as it stood there.
    given : bool, optional
        False where it was asked for and refused.
    picture : bytes, optional
        The drawn signature as PNG; on paper where there is none.

    Raises
    ------
    JobError
        The kind is not known, nobody signed, or the picture is no PNG or too large.
    """
    if what not in SIGNED:
        raise JobError(f"{what!r} is not signed here; use one of: {', '.join(SIGNED)}.")
    if not signed_by.strip():
        raise JobError("Say who signed.")
    if picture is not None:
        if not (picture.startswith(PNG) and len(picture) <= MAX_PICTURE_BYTES):
            raise JobError("The signature is no PNG picture of at most 2 MB; draw it again.")
        picture = small_drawing(picture, name="The signature", longest_side_px=SIGNATURE_PX)
    with store.writing() as session:
        row = logbook.Signature(
            id=new_id(),
            job_id=find_job(session, reference, lock=True).id,
            what=what,
            words=words.strip(),
            given=given,
            signed_by=signed_by.strip(),
            at=store.clock(),
            picture=picture,
        )
        session.add(row)
    return copied(SignatureRecord, row, on_paper=picture is None)


def signatures_of(store: Store, reference: str) -> tuple[SignatureRecord, ...]:
    """What was signed for a job, oldest first."""
    with store.reading() as session:
        return tuple(
            copied(SignatureRecord, row, on_paper=row.picture is None) for row in _rows(session, reference)
        )


def signature_picture(store: Store, reference: str, what: str) -> bytes | None:
    """The newest drawn signature of that kind."""
    with store.reading() as session:
        drawn = [row.picture for row in _rows(session, reference) if row.what == what]
    return drawn[-1] if drawn else None


def pictures_allowed(store: Store, reference: str) -> bool | None:
    """Whether the customer lets the shop use pictures; None where nobody asked."""
    asked = [one.given for one in signatures_of(store, reference) if one.what == "pictures"]
    return asked[-1] if asked else None


def _rows(session: Session, reference: str) -> list[logbook.Signature]:
    query = select(logbook.Signature).where(logbook.Signature.job_id == find_job(session, reference).id)
    return list(
        session.scalars(query.order_by(logbook.Signature.at).options(undefer(logbook.Signature.picture)))
    )
