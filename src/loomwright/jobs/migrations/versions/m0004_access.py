"""People, paired devices, sessions, tokens, and a log of who changed any of these."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, nullable=False, server_default="") for name in names]


def upgrade() -> None:
    """Make the tables; the log refuses any change to what was written."""
    op.create_table(
        "people",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("name_key", sa.Text, nullable=False, unique=True),
        *_texts("name", "role", "pin_hash", "since", "left_at", "wait_until"),
        sa.Column("failed", sa.Integer, nullable=False, server_default="0"))
    op.create_table(
        "devices",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("token_hash", sa.String(64), nullable=False, unique=True),
        *_texts("name", "since", "seen_at", "ended_at"))
    op.create_table(
        "sessions",
        sa.Column("token_hash", sa.String(64), primary_key=True),
        sa.Column("person", sa.Integer, sa.ForeignKey("people.id"), nullable=False),
        sa.Column("device", sa.Integer, nullable=False, server_default="0"),
        *_texts("since", "seen_at", "ended_at"))
    op.create_table(
        "tokens",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("token_hash", sa.String(64), nullable=False, unique=True),
        *_texts("name", "scope", "since", "by", "seen_at", "ended_at"))
    op.create_table(
        "access_log",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        *_texts("at", "by", "what", "about"))
    for action in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER access_log_refuse_{action.lower()} BEFORE {action} ON access_log "
            "BEGIN SELECT RAISE(ABORT, 'the access log is never changed or removed'); END")
