"""The index of jobs for list and search, the workshop's settings, and the log of practice."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables; settings and practice are only ever added to, the index is derived."""
    op.create_table(
        "job_index",
        sa.Column("job", sa.Integer, sa.ForeignKey("jobs.id"), primary_key=True,
                  autoincrement=False),
        sa.Column("state", sa.String(40), nullable=False, index=True),
        sa.Column("asks", sa.Integer, nullable=False),
        sa.Column("readings", sa.Integer, nullable=False),
        sa.Column("last_at", sa.String(40), nullable=False),
        *[sa.Column(name, sa.Text, nullable=False) for name in ("title", "card", "text")])
    op.create_table(
        "workshop_settings",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("key", sa.String(80), nullable=False, unique=True),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("by", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False))
    op.create_table(
        "practice",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("id", sa.String(64), nullable=False, unique=True),
        sa.Column("at", sa.String(40), nullable=False),
        sa.Column("who", sa.Text, nullable=False, index=True),
        sa.Column("exercise", sa.Text, nullable=False),
        sa.Column("what", sa.String(20), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("key", sa.String(80), nullable=False),
        sa.Column("before", sa.String(64), nullable=False))
    for table in ("workshop_settings", "practice"):
        for action in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_refuse_{action.lower()} BEFORE {action} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} are never changed or removed'); END")
