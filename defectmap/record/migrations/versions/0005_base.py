"""The form that every record has had since records left this project; later changes stand behind it.

A new record is made from the tables of `defectmap.record.model` and stamped with the newest of these numbers,
so only what changes an older record is written out here.
"""

revision = "0005"
down_revision = None


def upgrade() -> None:
    """Change nothing: the first form is made from the model."""
