"""The tables of people, devices, sessions and tokens. No secret stands in them, only hashes."""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Index, Integer, String, Table, Text

from loomwright.jobs.schema import metadata

__all__ = ["access_log", "devices", "people", "pin_tries", "sessions", "tokens"]


def _texts(*names: str) -> list[Column[str]]:
    return [Column(name, Text, nullable=False, server_default="") for name in names]


people = Table(
    "people", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("name_key", Text, nullable=False, unique=True),
    *_texts("name", "role", "pin_hash", "since", "left_at", "wait_until"),
    Column("failed", Integer, nullable=False, server_default="0"),
)

devices = Table(
    "devices", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("token_hash", String(64), nullable=False, unique=True),
    *_texts("name", "since", "seen_at", "ended_at"),
)

sessions = Table(
    "sessions", metadata,
    Column("token_hash", String(64), primary_key=True),
    Column("person", Integer, ForeignKey("people.id"), nullable=False),
    Column("device", Integer, nullable=False, server_default="0"),
    *_texts("since", "seen_at", "ended_at"),
    Index("sessions_person_device", "person", "device"),
)

# Person 0 is whoever was named that is nobody: guessing at such a one costs as much.
pin_tries = Table(
    "pin_tries", metadata,
    Column("person", Integer, primary_key=True, autoincrement=False),
    Column("device", Integer, primary_key=True, autoincrement=False),
    Column("failed", Integer, nullable=False, server_default="0"),
    *_texts("wait_until"),
)

tokens = Table(
    "tokens", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("token_hash", String(64), nullable=False, unique=True),
    *_texts("name", "scope", "since", "by", "seen_at", "ended_at"),
)

access_log = Table(
    "access_log", metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    *_texts("at", "by", "what", "about"),
)
