"""The vehicle's identification number on the job card; jobs of before have none."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the column; no row is changed."""
    op.add_column("jobs", sa.Column("vin", sa.String(17), nullable=False, server_default=""))
