"""The tables of the store, as SQLAlchemy sees them. Migrations make them; nothing else does."""

from __future__ import annotations

from sqlalchemy import Column, ForeignKey, Integer, MetaData, String, Table, Text, UniqueConstraint

__all__ = [
    "HEAD", "circuits", "events", "job_index", "jobs", "metadata", "practice", "workshop_settings"]

HEAD = "0005"  # the newest migration; a store that has it needs no migrating

metadata = MetaData()

circuits = Table(
    "circuits", metadata,
    Column("hash", String(64), primary_key=True),
    Column("text", Text, nullable=False),
)

jobs = Table(
    "jobs", metadata,
    Column("id", Integer, primary_key=True, autoincrement=True),
    Column("key", String(80), nullable=False, unique=True),
    Column("customer", Text, nullable=False),
    Column("vehicle", Text, nullable=False),
    Column("plate", Text, nullable=False),
    Column("system", Text, nullable=False),
    Column("complaint", Text, nullable=False),
    Column("complaint_when", Text, nullable=False),
    Column("circuit", String(64), ForeignKey("circuits.hash"), nullable=False),
    Column("created_at", String(40), nullable=False),
    Column("by", Text, nullable=False),
    Column("demo", String(80), nullable=False),
    Column("vin", String(17), nullable=False, server_default=""),
)

events = Table(
    "events", metadata,
    Column("job", Integer, ForeignKey("jobs.id"), primary_key=True),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("kind", String(20), nullable=False),
    Column("at", String(40), nullable=False),
    Column("by", Text, nullable=False),
    Column("key", String(80), nullable=False),
    Column("body", Text, nullable=False),
    UniqueConstraint("job", "key", name="one_event_per_key"),
)

# Derived from jobs and events with each of them; made anew by every migration.
job_index = Table(
    "job_index", metadata,
    Column("job", Integer, ForeignKey("jobs.id"), primary_key=True, autoincrement=False),
    Column("state", String(40), nullable=False, index=True),
    Column("asks", Integer, nullable=False),
    Column("readings", Integer, nullable=False),
    Column("last_at", String(40), nullable=False),
    Column("title", Text, nullable=False),
    Column("card", Text, nullable=False),
    Column("text", Text, nullable=False),
)

workshop_settings = Table(
    "workshop_settings", metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("key", String(80), nullable=False, unique=True),
    Column("at", String(40), nullable=False),
    Column("by", Text, nullable=False),
    Column("body", Text, nullable=False),
)

practice = Table(
    "practice", metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("id", String(64), nullable=False, unique=True),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False, index=True),
    Column("exercise", Text, nullable=False),
    Column("what", String(20), nullable=False),
    Column("body", Text, nullable=False),
    Column("key", String(80), nullable=False),
    Column("before", String(64), nullable=False),
)
