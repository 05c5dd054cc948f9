"""Backups of a data folder, made while it is in use, and put back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loomwright.jobs.backup import Kept

__all__ = ["backup", "restore"]


def backup(file: str | Path, data: str | Path | None = None) -> Kept:
    """Write the jobs of a data folder (the platform's own where not named) into one archive."""
    from loomwright.jobs.backup import make_backup
    from loomwright.jobs.folder import data_folder

    return make_backup(Path(data) if data else data_folder(), Path(file))


def restore(file: str | Path, data: str | Path, *, force: bool = False) -> Kept:
    """Put an archive into a data folder; `force` sets a folder in use aside, and keeps it."""
    from loomwright.jobs.backup import restore_backup

    return restore_backup(Path(file), Path(data), force=force)
