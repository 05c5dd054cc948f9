"""Wrong PINs for each person on each device; who was locked everywhere waits as others do."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Make the table, and the index that tells on which devices somebody has signed in."""
    op.create_table(
        "pin_tries",
        sa.Column("person", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("device", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("failed", sa.Integer, nullable=False, server_default="0"),
        sa.Column("wait_until", sa.Text, nullable=False, server_default=""))
    op.create_index("sessions_person_device", "sessions", ["person", "device"])
