"""Where the jobs live on this machine, by each platform's own rule."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

from loomwright.errors import UsageError

__all__ = ["STORE", "data_folder", "private_opener", "tighten", "used_folder"]

STORE = "jobs.sqlite"  # the store of jobs in a data folder


def data_folder(chosen: str | Path | None = None) -> Path:
    """Return the data folder, created when it is not there.

    Parameters
        chosen: a folder named by the user, or None for the platform's own place
    Raises
        UsageError: the folder cannot be made or written to
    """
    folder = Path(chosen) if chosen else _platform_folder() / "loomwright"
    try:
        # a new one is its owner's alone: it holds customers and the hashes of PINs
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not chosen:  # made by an earlier version, perhaps open to all
            tighten(folder)
    except FileExistsError as error:
        raise UsageError(f"'{folder}' is a file, not a folder.",
                         next_step="Name the folder of the jobs with --data.") from error
    except OSError as error:
        raise UsageError(f"The data folder '{folder}' cannot be made: {error.strerror}.",
                         next_step="Name another folder with --data.") from error
    if not os.access(folder, os.W_OK):
        raise UsageError(f"The data folder '{folder}' cannot be written to.",
                         next_step="Name another folder with --data.")
    return folder


def private_opener(path: str, flags: int) -> int:
    """Open a file for `open`; a new one is its owner's alone from the first moment."""
    return os.open(path, flags, 0o600)


def tighten(path: Path) -> None:
    """Take a file or folder of one's own from everybody else, where the system knows of that.

    What is another's stays as it is: who keeps a folder for several users has set it up so.
    """
    if sys.platform == "win32":  # there a user's own folders are theirs by inheritance
        return
    with contextlib.suppress(OSError):
        mode = path.stat().st_mode
        if mode & 0o077:
            path.chmod(mode & 0o700)


def used_folder(chosen: str | Path | None = None) -> Path:
    """Return a data folder that has a store in it; nothing is made.

    Raises UsageError where there is none: a name that was mistyped must not begin a new store.
    """
    folder = Path(chosen) if chosen else _platform_folder() / "loomwright"
    if not (folder / STORE).is_file():
        raise UsageError(f"There are no jobs in '{folder}'.",
                         next_step="Name the folder of the jobs with --data.")
    return folder


def _platform_folder() -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
