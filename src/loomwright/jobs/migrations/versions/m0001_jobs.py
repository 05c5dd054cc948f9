"""Circuits, jobs and events; events, jobs and circuits are never changed or removed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the first tables, and triggers that refuse any change to what was written."""
    op.create_table(
        "circuits",
        sa.Column("hash", sa.String(64), primary_key=True),
        sa.Column("text", sa.Text, nullable=False))
    op.create_table(
        "jobs",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("key", sa.String(80), nullable=False, unique=True),
        *[sa.Column(name, sa.Text, nullable=False) for name in
          ("customer", "vehicle", "plate", "system", "complaint", "complaint_when")],
        sa.Column("circuit", sa.String(64), sa.ForeignKey("circuits.hash"), nullable=False),
        sa.Column("created_at", sa.String(40), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("demo", sa.String(80), nullable=False))
    op.create_table(
        "events",
        sa.Column("job", sa.Integer, sa.ForeignKey("jobs.id"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("key", sa.String(80), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.UniqueConstraint("job", "key", name="one_event_per_key"))
    for table in ("events", "jobs", "circuits"):
        for action in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_refuse_{action.lower()} BEFORE {action} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} are never changed or removed'); END")
