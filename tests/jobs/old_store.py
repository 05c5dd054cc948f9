"""Stores as earlier versions of the program made them, by their own migrations."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine

import loomwright.jobs
from loomwright.jobs.database import FILE

__all__ = ["old_job", "store_at"]


def store_at(folder: Path, revision: str) -> Path:
    """Make an empty store of a revision and return its file."""
    engine = create_engine(f"sqlite:///{folder / FILE}")
    config = Config()
    config.set_main_option(
        "script_location", str(Path(loomwright.jobs.__file__).parent / "migrations"))
    config.set_main_option("path_separator", "os")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
    engine.dispose()
    return folder / FILE


def old_job(file: Path, vehicle: str = "Truck 7") -> None:
    """Add a job with the columns that every version has."""
    with contextlib.closing(sqlite3.connect(file)) as raw:
        raw.execute("INSERT INTO circuits VALUES ('00', 'text')")
        raw.execute(
            "INSERT INTO jobs (key, customer, vehicle, plate, system, complaint, complaint_when,"
            " circuit, created_at, by, demo) VALUES"
            " ('job-key-1', '', ?, '', '', 'dark', '', '00', '2026-01-01T00:00:00+00:00', '', '')",
            [vehicle])
        raw.commit()
